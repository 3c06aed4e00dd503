"""The page of an archive: text is text, and links stay below its folder."""

from __future__ import annotations

import re

from trackspread.archive.page import archive_page
from trackspread.archive.run import Outcome


def test_what_failed_is_listed_with_its_reason_and_no_name_is_markup() -> None:
    page = archive_page([Outcome(name="<script>x", state="failed", reason="a & b")])
    assert "<script>x" not in page
    assert "&lt;script&gt;x: a &amp; b" in page
    assert "1 folder, 1 set aside" in page


def test_without_results_nothing_is_linked() -> None:
    page = archive_page([Outcome(name="../../etc", state="failed", reason="no route")])
    assert not re.findall(r'href="[^#"]', page)
