"""`Analysis` to the document of result.json: strict JSON, null with a reason, no idle digits.

The names are fixed by schema ``trackspread.result/1`` (`trackspread.results.schema`, docs/result.md).
"""

from __future__ import annotations

import json
from typing import Any

from trackspread import model as m
from trackspread.results.saved import load_result
from trackspread.results.schema import RESULT, SCHEMA
from trackspread.results.schema.positions import wrapped_lon_deg

__all__ = ["SCHEMA", "load_result", "result_document", "result_text", "wrapped_lon_deg"]

Document = dict[str, Any]


def result_document(analysis: m.Analysis) -> Document:
    """Return everything an analysis found as plain dicts, lists, texts, finite numbers and ``None``.

    Parameters
    ----------
    analysis : Analysis

    Returns
    -------
    dict
        In the order of the schema; rounded as it says. A null has its reason beside it.
    """
    document: Document = RESULT.written(analysis, full=False)
    return document


def result_text(document: Document) -> str:
    """Return the document as JSON text: RFC 8259, UTF-8, one order of names, newline at the end.

    Parameters
    ----------
    document : dict

    Returns
    -------
    str

    Raises
    ------
    ValueError
        The document holds a number that is not finite.
    """
    return json.dumps(document, allow_nan=False, ensure_ascii=False, indent=1) + "\n"
