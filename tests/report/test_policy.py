"""The policy of a page (Content Security Policy Level 3), data in a script element, base maps."""

from __future__ import annotations

import base64
import hashlib
import json

import pytest

from trackspread.errors import BadOption
from trackspread.report.policy import PLACE, json_block, parse_basemap, with_policy

TILES = "https://{s}.example.org/{z}/{x}/{y}.png"


def test_the_policy_names_the_hash_of_each_script_and_style_and_nothing_else() -> None:
    page = with_policy(f"{PLACE}<style>p {{}}</style><script>let a = 1;</script>")
    digest = base64.b64encode(hashlib.sha256(b"let a = 1;").digest()).decode()
    assert f"script-src 'sha256-{digest}';" in page
    assert "default-src 'none'" in page
    assert "unsafe" not in page


@pytest.mark.parametrize("text", ["</script><script>", "<!--", "a&b", "\u2028\u2029"])
def test_data_opens_and_closes_nothing(text: str) -> None:
    block = json_block({"name": text})
    assert json.loads(block) == {"name": text}
    assert not set(block) & set("<>&\u2028\u2029")


def test_a_base_map_is_one_source_of_images() -> None:
    basemap = parse_basemap(TILES, "Example map")
    assert basemap.source == "https://*.example.org"
    assert "img-src data: blob: https://*.example.org;" in with_policy(PLACE, basemap.source)


@pytest.mark.parametrize(
    ("url", "attribution"),
    [
        ("ftp://example.org/{z}/{x}/{y}", "x"),
        ("https://example.org/tiles", "x"),
        (TILES, " "),
        ("https://a b/{z}{x}{y}", "x"),
    ],
)
def test_a_base_map_without_place_or_owner_is_refused(url: str, attribution: str) -> None:
    with pytest.raises(BadOption):
        parse_basemap(url, attribution)
