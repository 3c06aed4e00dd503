"""docs/inputs.md tells the names of columns and the bounds that the code holds."""

from __future__ import annotations

import re
from pathlib import Path

from trackspread.readers import clean, guard, sources
from trackspread.readers.formats import parquet, table
from trackspread.rides import at_once
from trackspread.rides.sheet import table as rides_table
from trackspread.rides.sheet import times

PAGE = (Path(__file__).parents[2] / "docs" / "inputs.md").read_text(encoding="utf-8")


def row(start: str) -> str:
    (found,) = re.findall(rf"^\| {start}.*\|$", PAGE, re.MULTILINE)
    return str(found)


def test_names_of_columns() -> None:
    """People read *watch*; the column is called ``receiver``."""
    for column, aliases in table.ALIASES.items():
        name = "watch" if column == "receiver" else column
        assert tuple(re.findall(r"`(\w+)`", row(rf"{name}(?: \(needed\))? \|"))) == aliases


def test_columns_of_the_table_of_rides() -> None:
    assert tuple(re.findall(r"^\| `(\w+)` \|", PAGE, re.MULTILINE)) == rides_table.COLUMNS
    assert times.LONGEST_DECLARED_WAIT_S == 3600.0


def test_bounds() -> None:
    assert f"{sources.LARGEST_FILE // 2**20} MiB" in row("one file")
    for bound in (f"{sources.MOST_MEMBERS:,} members", f"{sources.LARGEST_ARCHIVE_TOTAL // 2**30} GiB"):
        assert bound in row("one archive")
    assert f"{sources.LARGEST_RATIO}-fold" in row("one archive")
    assert f"{parquet.MOST_ROWS:,} rows, {parquet.LARGEST_MEMORY // 2**30} GiB" in row("Parquet . 5")
    assert f"{guard.DEEPEST} levels, {guard.MOST_ELEMENTS:,} elements" in row("XML")


def test_what_makes_a_ride() -> None:
    assert f"{at_once.LEAST_OVERLAP:.0%}".replace("%", " %") in PAGE
    assert f"within {at_once.NEAR_TRACE_M:.0f} m" in PAGE.replace("\n", " ")
    assert at_once.CLOCK_S == 120.0
    assert clean.LONGEST_WAIT_S == 1800.0
