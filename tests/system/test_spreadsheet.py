"""Cells that spreadsheets would run, in every table that is written."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackspread.system.spreadsheet import FORMULA_STARTS, guarded, unguarded


# OWASP, "CSV Injection": cells that begin with = + - @, tab, carriage return or line feed, or with the
# full-width forms of these signs, run as formulas in spreadsheets. Quoted from memory.
@pytest.mark.parametrize("start", [*FORMULA_STARTS, "\n", " =", "\n="])
def test_formulas_are_guarded(start: str) -> None:
    assert guarded(f"{start}1+1") == f"'{start}1+1"
    assert guarded("Alder") == "Alder"


@given(st.text(alphabet="=+-@ \n\t'a") | st.text())
def test_what_was_guarded_comes_back(text: str) -> None:
    assert not guarded(text).lstrip(" \n").startswith(FORMULA_STARTS)
    if not text.startswith("'"):
        assert unguarded(guarded(text)) == text
