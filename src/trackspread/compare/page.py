"""Receivers side by side as rows of text, as CSV and as a page of its own; every name is escaped."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Sequence
from html import escape

from trackspread.compare.picture import PICTURE_CSS, picture
from trackspread.compare.standings import FIGURES, Group, Standing
from trackspread.model import Estimate, MedianEstimate, Reason
from trackspread.report.simple_page import TABLE_CSS, scrolled, simple_page
from trackspread.results.rounding import plain, rounded_interval, with_interval
from trackspread.results.words.reasons import said
from trackspread.results.words.trend import OTHER_CAUSES, change_sentences
from trackspread.system.spreadsheet import guarded

HEADS = ("Rank", "Watch", "Analysis", "Spread", "First fix", "Settled fix", "In stretches", "Rides")
MOST_TIED = 4  # names in one sentence
EXPLAINED = (
    "Watches that share a rank show no detectable difference. Rank 2 means: one watch is better by more than "
    "chance allows. Within one analysis its own report decides. The spread of one watch in two analyses is "
    "compared ride by ride, that of two watches by an F test on their intervals; other figures differ if "
    "their intervals do not overlap. A test that contradicts a report is left out."
)
_CSS = """
main { max-width: 76rem; margin: 0 auto; padding: var(--space-6) var(--space-4); }
h2 { margin-top: var(--space-6); }
h3 { margin-top: var(--space-4); }
h1 + p { margin-top: var(--space-2); max-width: 60rem; }
.caution { margin-top: var(--space-2); padding-left: var(--space-3); border-left: 3px solid var(--wavering); }
"""


def cells(row: Standing, by: str) -> tuple[str, ...]:
    """Return the cells of one row under `HEADS`.

    Parameters
    ----------
    row : Standing
        One watch of one analysis.
    by : str
        The figure whose rank is told, one of `FIGURES`.

    Returns
    -------
    tuple of str
    """
    return (
        rank_text(row.ranks[by]), row.receiver, row.analysis, _spread(row.spread),
        _median(row.first_fix, "s"), _median(row.settled_fix, "s"), _share(row.stretch_share), str(row.rides),
    )  # fmt: skip


def rank_text(rank: int | None) -> str:
    """Return a rank, a dash where there is none.

    Parameters
    ----------
    rank : int or None
        From 1.

    Returns
    -------
    str

    Examples
    --------
    >>> rank_text(2), rank_text(None)
    ('2', '–')
    """
    return "–" if rank is None else str(rank)


def tied(group: Group, by: str) -> list[str]:
    """Return the ties of a group in words.

    Parameters
    ----------
    group : Group
        Watches that rode one route.
    by : str
        The figure that ranks them, one of `FIGURES`.

    Returns
    -------
    list of str
        A sentence a tie.
    """
    out = []
    for rank in sorted({row.ranks[by] or 0 for row in group.rows} - {0}):
        same = [f"{row.receiver} ({row.analysis})" for row in group.rows if row.ranks[by] == rank]
        if len(same) > 1:
            who = ", ".join(same) if len(same) <= MOST_TIED else f"{len(same)} rows"
            out.append(f"Rank {rank} is shared by {who}: no detectable difference.")
    return out


def _spread(figure: Estimate) -> str:
    if not math.isfinite(figure.value):
        return _unknown(figure.reason)
    return with_interval(*rounded_interval(figure.value, figure.low, figure.high), "m")


def _median(figure: MedianEstimate, unit: str) -> str:
    if not math.isfinite(figure.median):
        return _unknown(figure.reason)
    if figure.n == 1:
        return f"{plain(round(figure.median, 1))} {unit} (one ride)"
    return with_interval(*rounded_interval(figure.median, figure.low, figure.high, 1), unit)


def _unknown(reason: Reason) -> str:
    return f"not known: {said(reason)}" if reason else "not known"


def _share(figure: MedianEstimate) -> str:
    if not math.isfinite(figure.median):
        return "not known"
    median, low, high = (plain(round(100 * x, 1)) for x in (figure.median, figure.low, figure.high))
    return f"{median} % ({low} to {high} %)"


def rank_csv(groups: Sequence[Group]) -> str:
    """Return one row a receiver, numbers with their intervals, a rank for every figure.

    Parameters
    ----------
    groups : sequence of Group
        A group a route, numbered from 1.

    Returns
    -------
    str
        CSV; a cell is empty where there is no figure.
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    figures = ("spread_m", "first_fix_s", "settled_fix_s", "stretch_share")
    writer.writerow(
        ["group", "receiver", "analysis", "route", "rides", "shared_stations_only"]
        + [f"{name}{end}" for name in figures for end in ("", "_low", "_high")]
        + [f"rank_{name.replace(' ', '_')}" for name in FIGURES]
    )
    for number, group in enumerate(groups, 1):
        for row in group.rows:
            medians = (row.first_fix, row.settled_fix, row.stretch_share)
            values = [row.spread.value, row.spread.low, row.spread.high]
            values += [end for figure in medians for end in (figure.median, figure.low, figure.high)]
            writer.writerow(
                [number, guarded(row.receiver), guarded(row.analysis), guarded(row.route), row.rides]
                + [str(row.restricted).lower()]
                + [f"{value:.6g}" if math.isfinite(value) else "" for value in values]
                + [row.ranks[name] or "" for name in FIGURES]
            )
    return buffer.getvalue()


def rank_page(groups: Sequence[Group], by: str) -> str:
    """Return the page: one self-contained file under the policy of all our pages.

    Parameters
    ----------
    groups : sequence of Group
        A group a route.
    by : str
        The figure that orders the rows, one of `FIGURES`.

    Returns
    -------
    str
        HTML.
    """
    body = "\n".join(line for group in groups for line in _section(group, by))
    intro = f"<p>Ordered by {escape(by)}. {escape(EXPLAINED)}</p>"
    return simple_page("Watches side by side", _CSS + TABLE_CSS + PICTURE_CSS, f"{intro}\n{body}")


def _section(group: Group, by: str) -> Iterator[str]:
    yield f"<section>\n<h2>{escape(group.title)}</h2>"
    for words in (*group.cautions, *tied(group, by)):
        yield f'<p class="caution">{escape(words)}</p>'
    yield from picture(group)
    if group.changes:
        sentences = "".join(f"<li>{escape(words)}</li>" for words in change_sentences(group.changes))
        yield f"<h3>From one campaign to the next</h3>\n<ul>{sentences}</ul>\n<p>{escape(OTHER_CAUSES)}</p>"
    rows = (
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells(row, by)) + "</tr>"
        for row in group.rows
    )
    yield f"{scrolled(HEADS, rows, f'Watches, {group.title}')}\n</section>"
