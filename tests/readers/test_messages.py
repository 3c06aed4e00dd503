"""docs/messages.md and the source speak of the same findings, refusals and reasons."""

from __future__ import annotations

import re
from pathlib import Path

from reasons import EXAMPLES
from trackspread.readers.notes import CODES
from trackspread.results.words.reasons import said

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "messages.md").read_text(encoding="utf-8")


def test_every_finding_is_explained() -> None:
    explained = re.findall(r"^\| `([a-z0-9 ]+)` \|", PAGE, re.MULTILINE)
    assert explained == list(CODES)


def test_every_refusal_of_a_reader_is_explained() -> None:
    """Each rule in the readers begins with words that stand on the page."""
    for source in sorted((ROOT / "src" / "trackspread" / "readers").glob("*.py")):
        for rule in re.findall(r"""\brule ?= ?f?"([^"{]{12,})""", source.read_text(encoding="utf-8")):
            assert rule.strip() in PAGE, f"{source.name}: {rule}"


def test_every_reason_to_set_a_trace_aside_is_explained() -> None:
    for reason in (
        "no other trace runs this way in this direction",
        "usable points",
        "it stays within",
        "of its way is shared with the nearest route",
        "the same recording as",
        "its only companion on this route is the same recording",
    ):
        assert reason in PAGE
        assert any(reason in said(example) for example in EXAMPLES)
