"""The page for the phone: one file, silent, and names on it are text."""

from __future__ import annotations

import re

import pytest

from records import PAYLOADS
from trackspread.errors import BadOption
from trackspread.web.ride_log import MOST_WATCHES, log_page


def test_the_page_asks_for_nothing_and_says_so_in_its_policy() -> None:
    page = log_page(["sedge"])
    assert "default-src 'none'" in page
    assert not re.search(r"""(src|href)=["'](https?:)?//""", page)


def test_names_close_nothing() -> None:
    page = log_page([payload for payload in PAYLOADS if payload.strip()][:MOST_WATCHES])
    assert page.count("</script>") == log_page().count("</script>")


@pytest.mark.parametrize(
    ("names", "rule"), [([" "], "a name is needed"), ([str(n) for n in range(21)], "at most 20")]
)
def test_too_many_names_and_none_are_refused(names: list[str], rule: str) -> None:
    with pytest.raises(BadOption, match=f"^watch: {rule}"):
        log_page(names)
