"""The picture of the first screen, as SVG that stands in the page: every watch is one row.

A row has the spread with its interval, every first fix as a dot with the median as a bar, the share of the
way on which the watch left the others, and the letters that say who differs (Piepho 2004). Names are
escaped here; looks come from class names.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from math import isfinite

import numpy as np

from trackspread import model as m
from trackspread.errors import printable
from trackspread.report.answer import Row
from trackspread.report.watches import look
from trackspread.results.rounding import plain, rounded, rounded_interval

FAR_FIXES = 4.0
"""A first fix beyond so many times the upper quartile is shown by an arrow at the edge, with its value."""
LEAST_SCALE_S = 10.0
DOT_PX = 3.5


@dataclass(frozen=True, kw_only=True, slots=True)
class _Panel:
    """A stretch of the picture with a scale of its own: from ``left`` to ``right``, 0 to ``top``."""

    left: float
    right: float
    top: float

    def x(self, value: float) -> float:
        """Return where a value lies, at the right edge where it lies beyond."""
        return round(self.left + (self.right - self.left) * min(1.0, max(0.0, value / self.top)), 1)


def answer_picture(rows: Sequence[Row], narrow: bool) -> str:
    """Return the SVG of all rows, for wide windows or for a phone."""
    width = 360 if narrow else 640
    height_of_row = 58.0 if narrow else min(150.0, max(44.0, 500.0 / max(1, len(rows))))
    spread = _Panel(left=8 if narrow else 178, right=178 if narrow else 350, top=_top_m(rows))
    fixes = _Panel(left=216 if narrow else 416, right=340 if narrow else 534, top=_top_s(rows))
    head, foot = (20.0, 20.0) if narrow else (26.0, 24.0)
    height = round(head + height_of_row * len(rows) + foot)
    grouped = any(row.group for row in rows)
    parts = [_heads(spread, fixes, narrow, grouped)]
    for panel, unit in ((spread, "m"), (fixes, "s")):
        parts.append(_axis(panel, unit, head, height - foot))
    for number, row in enumerate(rows):
        top = head + number * height_of_row
        middle = top + (height_of_row - 16 if narrow else height_of_row / 2)
        parts.append(_row(row, spread, fixes, top, middle, narrow))
    label = escape(picture_in_words(rows), quote=True)
    kind = "narrow" if narrow else "wide"
    return (
        f'<svg class="answer {kind}" viewBox="0 0 {width} {height}" role="img" aria-label="{label}" '
        f'data-save="watches">{"".join(parts)}</svg>'
    )


def picture_in_words(rows: Sequence[Row]) -> str:
    """Return what the picture shows, for those who cannot see it."""
    told = []
    for row in rows:
        spread = ", ".join(_metres(estimate, whole=True) for estimate in row.spreads) or "spread not known"
        fix = _median(row)
        stray = _stray(row)
        group = f", group {row.group}" if row.group else ""
        told.append(f"{row.name}: {spread}, first fix {fix or 'unknown'}, {stray or 'unknown'} astray{group}")
    return f"Every watch: {'; '.join(told)}."


# --- pieces ------------------------------------------------------------------------------------------


def _heads(spread: _Panel, fixes: _Panel, narrow: bool, grouped: bool) -> str:
    heads = [(spread.left, "Spread, 1 SD"), (fixes.left, "First fix")]
    if not narrow:
        heads += [(588, "Astray"), *([(126, "Group")] if grouped else [])]
    return "".join(f'<text class="head" x="{x:g}" y="12">{words}</text>' for x, words in heads)


def _axis(panel: _Panel, unit: str, top: float, bottom: float) -> str:
    step = _step(panel.top)
    ticks = np.arange(0.0, panel.top * 1.001, step)
    lines = [
        f'<path class="grid" d="M{panel.x(t):g} {top:g}V{bottom:g}"/>'
        f'<text class="tick" text-anchor="middle" x="{panel.x(t):g}" y="{bottom + 15:g}">'
        f"{plain(float(t))}{f' {unit}' if t == ticks[-1] else ''}</text>"
        for t in ticks
    ]
    return "".join(lines)


def _row(row: Row, spread: _Panel, fixes: _Panel, top: float, middle: float, narrow: bool) -> str:
    looks = look(row.slot)
    base = top + 17 if narrow else middle + 5
    name = (
        f'<path class="trace {looks}" d="M2 {base - 4:g}H26" fill="none"/>'
        f'<text class="name" x="32" y="{base:g}">{escape(row.name)}</text>'
    )
    figures = [_metres(row.spreads[0]) if len(row.spreads) == 1 else "", _median(row), _stray(row)]
    if narrow:
        told = " · ".join(
            part for part in (*figures[:2], f"{figures[2]} astray" if figures[2] else "") if part
        )
        group = f" {escape(row.group)}" if row.group else ""
        name = name.replace("</text>", f'<tspan class="group">{group}</tspan></text>')
        name += f'<text class="figure" text-anchor="end" x="356" y="{base:g}">{told}</text>'
    else:
        places = ((spread.right + 8, figures[0]), (fixes.right + 8, figures[1]), (592, figures[2]))
        name += "".join(f'<text class="figure" x="{x:g}" y="{base:g}">{f}</text>' for x, f in places if f)
        name += f'<text class="group" x="136" y="{base:g}">{escape(row.group)}</text>'
    return (
        f"<g>{name}{_intervals(row, spread, middle, looks)}{_dots(row, fixes, middle, looks)}"
        f'<path class="grid" d="M0 {top:g}H{fixes.right if narrow else 636:g}"/></g>'
    )


def _intervals(row: Row, panel: _Panel, middle: float, looks: str) -> str:
    """Draw each estimate as a bar from low to high with its value as a dot, an open end as an arrow."""
    known = [estimate for estimate in row.spreads if isfinite(estimate.value)]
    if not known:
        return f'<text class="unknown" x="{panel.left + 4:g}" y="{middle + 4:g}">not known</text>'
    parts = []
    for number, estimate in enumerate(known):
        y = middle + 11.0 * (number - (len(known) - 1) / 2)
        low = estimate.low if isfinite(estimate.low) else 0.0
        high = estimate.high if isfinite(estimate.high) else panel.top
        parts.append(
            f'<path class="interval {looks}" d="M{panel.x(low):g} {y:g}H{panel.x(high):g}"/>'
            f'<circle class="value {looks}" cx="{panel.x(estimate.value):g}" cy="{y:g}" r="5">'
            f"<title>{escape(row.name)}: {_metres(estimate, whole=True)}</title></circle>"
        )
        if not isfinite(estimate.high) or estimate.high > panel.top:
            parts.append(f'<path class="beyond {looks}" d="M{panel.right:g} {y - 5:g}l7 5l-7 5z"/>')
    return "".join(parts)


def _dots(row: Row, panel: _Panel, middle: float, looks: str) -> str:
    if not row.fixes:
        return f'<text class="unknown" x="{panel.left + 4:g}" y="{middle + 4:g}">no start time noted</text>'
    parts = []
    median = row.median_fix.median
    if isfinite(median) and median <= panel.top:
        parts.append(
            f'<path class="median {looks}" d="M{panel.x(median):g} {middle - 12:g}V{middle + 12:g}"/>'
        )
    inside = [panel.x(dot.seconds) for dot in row.fixes if dot.seconds <= panel.top]
    beside = dict(zip(sorted(inside), _apart(sorted(inside)), strict=False))
    for dot in row.fixes:
        ride, route = printable(dot.ride, 12), printable(dot.route, 30)
        told = f"{row.name}, ride {ride}, {route}: {plain(rounded(dot.seconds))} s"
        title = f"<title>{escape(told)}</title>"
        x, y = panel.x(dot.seconds), middle
        if dot.seconds > panel.top:
            parts.append(f'<path class="beyond {looks}" d="M{x - 7:g} {y - 5:g}l7 5l-7 5z">{title}</path>')
            words = plain(rounded(dot.seconds, 0))
            parts.append(f'<text class="tick" text-anchor="end" x="{x - 10:g}" y="{y + 4:g}">{words}</text>')
        else:
            y += beside.pop(x, 0.0)
            parts.append(f'<circle class="dot {looks}" cx="{x:g}" cy="{y:g}" r="{DOT_PX:g}">{title}</circle>')
    return "".join(parts)


def _apart(places: Sequence[float]) -> list[float]:
    """Return how far above or below its row each of the dots (from left to right) stands to be seen alone."""
    placed: list[tuple[float, float]] = []
    for x in places:
        near = [y for other, y in placed if x - other < 2 * DOT_PX]
        free = (y for y in (0.0, -7.0, 7.0, -14.0, 14.0) if y not in near)
        placed.append((x, next(free, 0.0)))
    return [y for _, y in placed]


# --- scales and figures ------------------------------------------------------------------------------


def _top_m(rows: Sequence[Row]) -> float:
    """Return the end of the scale of spreads: all values, and bounds up to three times the largest."""
    every = [estimate for row in rows for estimate in row.spreads]
    largest = max((e.value for e in every if isfinite(e.value)), default=1.0)
    bound = max((e.high for e in every if isfinite(e.high)), default=largest)
    return _even(max(min(bound, 3.0 * largest), 1.1 * largest, 1.0))


def _top_s(rows: Sequence[Row]) -> float:
    every = np.array([dot.seconds for row in rows for dot in row.fixes])
    if not every.size:
        return LEAST_SCALE_S
    usual = FAR_FIXES * float(np.percentile(every, 75))
    shown = every[every <= usual]
    return _even(max(LEAST_SCALE_S, float(shown.max() if shown.size else every.max())))


def _step(top: float) -> float:
    """Return the distance of ticks: at most five of them."""
    power = 10.0 ** np.floor(np.log10(top / 3.0))
    return float(next(power * s for s in (1, 2, 5, 10) if top / (power * s) <= 4.0))


def _even(value: float) -> float:
    return float(_step(value) * np.ceil(value / _step(value) - 1e-9))


def _metres(estimate: m.Estimate, whole: bool = False) -> str:
    value, low, high = rounded_interval(estimate.value, estimate.low, estimate.high)
    if value is None:
        return "not known" if whole else ""
    text = f"{value:.1f} m"
    return f"{text} ({plain(low)} to {plain(high)} m)" if whole else text


def _median(row: Row) -> str:
    median = row.median_fix.median
    return f"{plain(rounded(median, 0))} s" if isfinite(median) else ""


def _stray(row: Row) -> str:
    known = [e.value for e in row.strays if isfinite(e.value)]
    return f"{plain(rounded(100 * known[0], 0))} %" if len(known) == 1 else ""
