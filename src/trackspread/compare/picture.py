"""A picture of watches by campaigns: every spread as a dot on its interval, all on one scale."""

from __future__ import annotations

import math
from collections.abc import Iterator
from html import escape
from itertools import groupby

from trackspread.compare.standings import Group, Standing
from trackspread.report.style import RECEIVER_COLOURS
from trackspread.report.watches import look
from trackspread.results.rounding import plain
from trackspread.rides.colours import watch_slots

WIDE, HIGH = 400.0, 18.0  # px of a row
MOST_SCALE_TIMES = 3.0
"""An interval is drawn up to so many times the largest spread; beyond, it ends in an arrow."""
PICTURE_CSS = """
.picture { width: 100%; border-collapse: collapse; margin-top: var(--space-4); max-width: 60rem; }
.picture td, .picture th { padding: 2px var(--space-2); border-bottom: 0; text-align: left;
  font-weight: 400; vertical-align: top; }
.picture caption { text-align: left; font-weight: 600; }
.picture tr.first td, .picture tr.first th { border-top: 1px solid var(--rule); }
.picture td.drawn { width: 60%; vertical-align: middle; }
.picture svg { display: block; width: 100%; overflow: visible; }
.picture line { stroke: currentColor; stroke-width: 2; vector-effect: non-scaling-stroke; }
.picture line.grid { stroke: var(--rule); stroke-width: 1; }
.picture path, .picture circle { fill: currentColor; }
.picture .days { color: var(--muted); font-size: var(--type-table); white-space: nowrap; }
@media (max-width: 40rem) { .picture .days { display: none; } .picture svg { transform: scaleY(1.6); } }
.picture .scale { display: flex; justify-content: space-between; font-size: var(--type-table); }
""" + "".join(f".picture .k{k} svg {{ color: var(--receiver-{k}); }}\n" for k in range(len(RECEIVER_COLOURS)))


def picture(group: Group) -> Iterator[str]:
    """Yield the rows of the picture: by watch, then in the order of time; nothing without a spread.

    Parameters
    ----------
    group : Group
        Watches that rode one route.

    Yields
    ------
    str
        Lines of HTML.
    """
    rows = [row for row in group.rows if math.isfinite(row.spread.value)]
    if not rows:
        return
    end = scale_end(rows)
    rows.sort(key=lambda row: (row.receiver, row.days, row.analysis))
    yield (
        '<table class="picture"><caption>Spread with its interval, by watch and campaign</caption>'
        '<thead><tr><th scope="col">Watch</th><th scope="col">Campaign</th>'
        f'<th scope="col"><span class="scale"><span>0</span><span>{plain(end / 2)}</span>'
        f"<span>{plain(end)} m</span></span></th></tr></thead>\n<tbody>"
    )
    slots = watch_slots((row.receiver for row in rows), {row.receiver: row.colour for row in rows})
    for receiver, mine in groupby(rows, key=lambda row: row.receiver):
        every = list(mine)
        name = f'<th scope="rowgroup" rowspan="{len(every)}">{escape(receiver)}</th>'
        for row in every:
            when = "–".join(dict.fromkeys(day for day in row.days if day))
            yield (
                f'<tr class="{look(slots[receiver])} {"first" if name else "next"}">{name}'
                f'<td>{escape(row.analysis)} <span class="days">{escape(when)}</span></td>'
                f'<td class="drawn">{drawn(row, end)}</td></tr>'
            )
            name = ""
    yield "</tbody></table>"


def scale_end(rows: list[Standing]) -> float:
    """Return the end of the scale, metres: 1, 2 or 5 times a power of ten, above all that is drawn.

    Parameters
    ----------
    rows : list of Standing
        At least one, each with a spread.

    Returns
    -------
    float
    """
    largest = max(row.spread.value for row in rows)
    ends = [row.spread.high for row in rows if math.isfinite(row.spread.high)]
    need = max(largest * 1.05, min(max(ends, default=largest), MOST_SCALE_TIMES * largest), 0.1)
    power = 10.0 ** math.floor(math.log10(need))
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= need * (1.0 - 1e-9))


def drawn(row: Standing, end: float) -> str:
    """Return one interval as a drawing with its text; an end beyond the scale is an arrow.

    Parameters
    ----------
    row : Standing
        One watch of one analysis.
    end : float
        Of the scale, metres.

    Returns
    -------
    str
        SVG.
    """
    low, high = (x if math.isfinite(x) else row.spread.value for x in (row.spread.low, row.spread.high))
    x1, x2, dot = (round(WIDE * min(x, end) / end, 1) for x in (low, high, row.spread.value))
    middle = HIGH / 2
    arrow = f'<path d="M{WIDE:g} {middle:g} l-8 -5 v10 z"/>' if high > end else ""
    text = f"{row.receiver}, {row.analysis}: {row.spread.value:.1f} m ({low:.1f} to {high:.1f} m)"
    return (
        f'<svg viewBox="0 0 {WIDE:g} {HIGH:g}" role="img" aria-label="{escape(text)}">'
        f'<line class="grid" x1="0" y1="{middle:g}" x2="{WIDE:g}" y2="{middle:g}"/>'
        f'<line x1="{x1}" y1="{middle:g}" x2="{x2}" y2="{middle:g}"/>'
        f'<line x1="{x1}" y1="4" x2="{x1}" y2="14"/><line x1="{x2}" y1="4" x2="{x2}" y2="14"/>{arrow}'
        f'<circle cx="{dot}" cy="{middle:g}" r="5"/></svg>'
    )
