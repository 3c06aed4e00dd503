"""What a page says of files and settings: what was set aside, what was guessed, on which grid."""

from __future__ import annotations

from trackspread.errors import printable
from trackspread.readers.notes import WAITS
from trackspread.results.document import Document
from trackspread.results.rounding import counted, plain
from trackspread.results.words import findings as words


def aside(document: Document) -> list[str]:
    """Return what was set aside and why, one line each.

    Parameters
    ----------
    document : dict
        Of a whole analysis.

    Returns
    -------
    list of str
        Files first, then problems, then points; plain text, not escaped.
    """
    lines = [
        f"{printable(record['file'], 120)}: {printable(record['reason'], 200)}."
        for record in document["inputs"]
        if record["status"] != "used"
    ]
    lines += [printable(problem, 400) for problem in document["problems"]]
    found = [finding for record in document["inputs"] for finding in record["findings"]]
    waited = sum(finding["count"] for finding in found if finding["code"] in WAITS)
    points = sum(record["points_set_aside"] for record in document["inputs"]) - waited
    if waited:
        lines.append(
            f"{counted(waited, 'record')} without a position, from before a fix or after it was lost."
        )
    if points > 0:
        lines.append(f"{counted(points, 'point')} set aside in traces that were used: see Files read.")
    return lines


def inferred(document: Document) -> str:
    """Return what nobody gave and was guessed, or "".

    Parameters
    ----------
    document : dict
        Of a whole analysis.

    Returns
    -------
    str
    """
    told = []
    for name in ("receiver", "ride"):
        guessed = sum(r[f"{name}_from"] not in ("sheet", "none") for r in document["inputs"])
        if guessed:
            told.append(f"the {'watch' if name == 'receiver' else name} of {counted(guessed, 'trace')}")
    if not told:
        return ""
    return f"Guessed: {' and '.join(told)}. Correct it in rides.csv."


def setting(value: float | int | str | bool) -> str:
    """Return the value of a setting as it is read.

    Parameters
    ----------
    value : bool, int, float or str

    Returns
    -------
    str
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def grid(route: Document) -> str:
    """Return the grid of a route with the bound of its scale error.

    Parameters
    ----------
    route : dict
        One of the document's ``routes``.

    Returns
    -------
    str
    """
    error = plain(route["grid"]["scale_error_ppm"])
    return f"Grid of {words.name_of(route)}: {route['grid']['proj4']}, scale error at most {error} ppm."
