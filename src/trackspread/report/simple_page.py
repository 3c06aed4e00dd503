"""The frame of a page without scripts: our style, our policy, one self-contained file."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape
from importlib.resources import files

from trackspread.report.policy import PLACE, with_policy
from trackspread.report.style import css_variables
from trackspread.results.rounding import unbroken

_TEXT = re.compile(r"(?<=>)[^<]+")

TABLE_CSS = """
.wide { overflow-x: auto; margin-top: var(--space-3); }
.wide table { border-collapse: collapse; width: 100%; font-size: var(--type-table);
  font-variant-numeric: tabular-nums; }
.wide th, .wide td { text-align: left; vertical-align: top; padding: var(--space-2) var(--space-3);
  border-bottom: 1px solid var(--rule); }
.wide th:first-child, .wide td:first-child { position: sticky; left: 0; background: var(--paper); }
.wide td { max-width: 22rem; overflow: hidden; text-overflow: ellipsis; }
.wide .cue { display: none; }
@media screen and (max-width: 60rem) {
  .wide .cue { display: block; position: sticky; left: 0; }
  .wide th, .wide td { white-space: nowrap; }
}
@media print { .wide { overflow: visible; } .wide table { font-size: 8pt; } }
"""
"""Of `scrolled`: cells wrap on a wide screen and on paper; on a narrow one lines stay whole, and a cue says
that there is more."""


def scrolled(heads: Sequence[str], rows: Iterable[str], label: str) -> str:
    """Return a table that scrolls sideways by itself.

    Parameters
    ----------
    heads : sequence of str
        Plain texts, escaped here.
    rows : iterable of str
        HTML of each row; its texts are escaped already.
    label : str
        What the table is, for those who cannot see it; escaped here.

    Returns
    -------
    str
        HTML that looks as `TABLE_CSS` says.
    """
    cells = "".join(f'<th scope="col">{escape(head)}</th>' for head in heads)
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{escape(label, quote=True)}">'
        '<p class="cue small">More columns to the right →</p>'
        f"<table><thead><tr>{cells}</tr></thead>\n<tbody>{''.join(rows)}</tbody></table></div>"
    )


def simple_page(title: str, css: str, body: str) -> str:
    """Return a page without scripts that opens offline.

    Parameters
    ----------
    title : str
        Plain text, escaped here.
    css : str
        Of ours, behind that of all pages.
    body : str
        HTML; its texts are escaped already.

    Returns
    -------
    str
    """
    readable = _TEXT.sub(lambda text: unbroken(text[0]), body)
    base = (files("trackspread.report") / "templates" / "base.css").read_text("utf-8")
    return with_policy(
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n{PLACE}\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{css_variables()}{base}{css}</style>\n</head>\n"
        f"<body>\n<main>\n<h1>{escape(title)}</h1>\n{readable}\n</main>\n</body>\n</html>\n"
    )
