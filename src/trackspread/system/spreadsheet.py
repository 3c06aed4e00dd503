"""Texts in tables that a spreadsheet opens: none of them runs as a formula."""

from __future__ import annotations

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")
"""First signs of a formula (OWASP, "CSV Injection"), the full-width ones too."""


def _is_formula(text: str) -> bool:
    """Return whether a spreadsheet may run a text: a formula starts it, perhaps behind blanks."""
    return text.lstrip(" \n").startswith(FORMULA_STARTS) or text.startswith("\n")


def guarded(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula, with an apostrophe before it where needed.

    Parameters
    ----------
    text : str
        Text of a cell.

    Returns
    -------
    str

    Examples
    --------
    >>> guarded(" =1+1"), guarded("sedge")
    ("' =1+1", 'sedge')
    """
    return f"'{text}" if _is_formula(text) else text


def unguarded(text: str) -> str:
    """Return a text without the apostrophe that `guarded` puts on.

    Parameters
    ----------
    text : str
        Text of a cell, as it was read.

    Returns
    -------
    str

    Examples
    --------
    >>> unguarded("' =1+1"), unguarded("'tis")
    (' =1+1', "'tis")
    """
    return text[1:] if text.startswith("'") and _is_formula(text[1:]) else text
