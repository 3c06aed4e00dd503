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
from types import MappingProxyType

import numpy as np

from trackspread import model as m
from trackspread.errors import printable
from trackspread.report.answer import FixDot, Row
from trackspread.report.watches import look
from trackspread.results.rounding import plain, rounded, rounded_interval
from trackspread.results.words.names import cut_in_middle

FAR_FIXES = 4.0
"""A first fix beyond so many times the upper quartile is shown by an arrow at the edge, with its value."""
MOST_FAR = 3  # times beyond the axis that are written out
FAR_BOUND = 5.0
"""An interval is drawn up to so many times the largest spread; beyond, an arrow says how far it goes."""
LEAST_SCALE_S = 10.0  # s, shortest axis
LEAST_SCALE_PERCENT = 4.0  # per cent, shortest axis
DOT_PX, DOT_STEP_PX = 3.5, 8.0  # px, radius and distance of dots
NAME_PX, LETTER_PX = 34.0, 8.7
"""Where a name begins, and the width of a letter of it, by which a long name is cut."""
FEW_ROWS = 3
"""Up to so many watches the picture runs over the whole width, and the map stands below it."""
MOST_FIGURES = 4
"""Of more watches only the spread is written out: what is drawn says the rest, and so do the tables."""
Span = tuple[float, float]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Panel:
    """A part of the picture with a scale of its own: from ``left`` to ``right``, 0 to ``top``."""

    left: float
    right: float
    top: float

    def x(self, value: float) -> float:
        """Return where a value lies, at the right edge where it lies beyond."""
        return round(self.left + (self.right - self.left) * min(1.0, max(0.0, value / self.top)), 1)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Form:
    """Where everything stands: one form for whole rows, one beside the map, one for a phone."""

    kind: str
    width: float
    spread: Span
    fixes: Span
    astray: Span
    letter: float
    rows: Span
    name_end: float


_FORMS = MappingProxyType(
    {
        "broad": _Form(
            kind="broad", width=1160, spread=(8, 460), fixes=(620, 900), astray=(990, 1060), letter=538,
            rows=(64, 64), name_end=520,
        ),
        "wide": _Form(
            kind="wide", width=640, spread=(8, 250), fixes=(356, 490), astray=(552, 594), letter=300,
            rows=(58, 110), name_end=340,
        ),
        "narrow": _Form(
            kind="narrow", width=360, spread=(8, 122), fixes=(190, 280), astray=(300, 332), letter=160,
            rows=(58, 58), name_end=170,
        ),
    }
)  # fmt: skip


def answer_pictures(rows: Sequence[Row]) -> list[str]:
    """Return the SVG of all rows for wide windows and for a phone.

    Parameters
    ----------
    rows : sequence of Row

    Returns
    -------
    list of str
        Two elements ``svg``; names in them are escaped.
    """
    return [
        _picture(rows, _FORMS["broad" if len(rows) <= FEW_ROWS else "wide"]),
        _picture(rows, _FORMS["narrow"]),
    ]


def _picture_in_words(rows: Sequence[Row]) -> str:
    """Return what the picture shows, for those who cannot see it."""
    told = []
    for row in rows:
        spread = ", ".join(_interval(estimate) for estimate in row.spreads) or "spread not known"
        fix, stray = _median(row), _stray(row)
        group = f", group {row.group}" if row.group else ""
        told.append(
            f"{row.name}: {spread}, first fix {f'{fix} s' if fix else 'unknown'}, "
            f"{f'{stray} %' if stray else 'unknown'} astray{group}"
        )
    return f"Every watch: {'; '.join(told)}."


# --- pieces ------------------------------------------------------------------------------------------


def _picture(rows: Sequence[Row], form: _Form) -> str:
    least, most = form.rows
    high = min(most, max(least, 540.0 / max(1, len(rows))))
    spread = _Panel(left=form.spread[0], right=form.spread[1], top=_top_m(rows))
    fixes = _Panel(left=form.fixes[0], right=form.fixes[1], top=_top_s(rows))
    astray = _Panel(left=form.astray[0], right=form.astray[1], top=_top_percent(rows))
    panels = [spread, fixes, astray]
    head, foot = 22.0, 20.0
    height = round(head + high * len(rows) + foot)
    parts = [_heads(form)]
    parts += [_axis(panel, head, height - foot, few=panel is astray) for panel in panels]
    for number, row in enumerate(rows):
        top = head + number * high
        parts.append(_row(row, form, panels, (top, top + high), figures=len(rows) <= MOST_FIGURES))
    label = escape(_picture_in_words(rows), quote=True)
    return (
        f'<svg class="answer {form.kind}" viewBox="0 0 {form.width:g} {height}" role="img" '
        f'aria-label="{label}" data-save="watches">{"".join(parts)}</svg>'
    )


def _heads(form: _Form) -> str:
    heads = [
        (form.spread[0], "Spread, m (SD)", ""),
        (form.fixes[0], "First fix, s", ""),
        (form.astray[0], "Astray, %", "Share of the way on which the watch left the others"),
    ]
    return "".join(
        f'<text class="head" x="{x:g}" y="12">{words}{f"<title>{title}</title>" if title else ""}</text>'
        for x, words, title in heads
    )


def _axis(panel: _Panel, top: float, bottom: float, few: bool) -> str:
    """Draw the ticks of a scale; ``few``: of a narrow one its end alone."""
    ticks = [panel.top] if few else np.arange(0.0, panel.top * 1.001, _step(panel.top)).tolist()
    return "".join(
        f'<path class="grid" d="M{panel.x(t):g} {top:g}V{bottom:g}"/>'
        f'<text class="tick" text-anchor="middle" x="{panel.x(t):g}" y="{bottom + 15:g}">{plain(t)}</text>'
        for t in ticks
    )


def _row(row: Row, form: _Form, panels: Sequence[_Panel], place: Span, figures: bool) -> str:
    """Draw one watch: its name on a line of its own, below that its spread, beside both its first fixes."""
    (top, bottom), looks = place, look(row.slot)
    name, bar, middle = top + 18, bottom - max(18.0, 0.3 * (bottom - top)), (top + bottom) / 2
    spread = _metres(row.spreads[0]) if len(row.spreads) == 1 else ""
    fix, stray = (_median(row), _stray(row)) if figures else ("", "")
    narrow = form.kind == "narrow"
    beside = (panels[1].right, name, fix, "end") if narrow else (panels[1].right + 10, middle + 5, fix)
    drawn = [
        f'<path class="grid" d="M0 {top:g}H{form.width:g}"/>'
        f'<path class="trace {looks}" d="M2 {name - 5:g}H28" fill="none"/>'
        f'<text class="name" x="{NAME_PX:g}" y="{name:g}">{_fitting(row.name, form)}</text>',
        _intervals(row, panels[0], bar, looks),
        _dots(row, panels[1], middle, looks, room=middle - top),
        _bar(row, panels[2], middle, looks),
        _figure(panels[0].right + 10, bar + 5, spread),
        _figure(*beside),
        _figure(panels[2].right + (4 if narrow else 10), middle + 5, stray),
        f'<text class="group" x="{form.letter:g}" y="{bar + 5:g}">{escape(row.group)}</text>',
    ]
    return f"<g>{''.join(drawn)}</g>"


def _fitting(name: str, form: _Form) -> str:
    """Return a name cut in its middle to the room that it has, whole as its title; ends tell models apart."""
    most = int((form.name_end - NAME_PX) / LETTER_PX)
    shown = escape(cut_in_middle(name, most))
    return shown if len(name) <= most else f"{shown}<title>{escape(name)}</title>"


def _figure(x: float, y: float, words: str, anchor: str = "start") -> str:
    return f'<text class="figure" text-anchor="{anchor}" x="{x:g}" y="{y:g}">{words}</text>' if words else ""


def _bar(row: Row, panel: _Panel, middle: float, looks: str) -> str:
    """Draw the share of the way astray as a bar."""
    known = [e.value for e in row.strays if isfinite(e.value)]
    if len(known) != 1:
        return ""
    end = panel.x(100.0 * known[0])
    title = f"<title>{escape(row.name)}: {_stray(row)} % of the way astray</title>"
    return f'<path class="interval astray {looks}" d="M{panel.left:g} {middle:g}H{end:g}">{title}</path>'


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
            f"<title>{escape(row.name)}: {_interval(estimate)}</title></circle>"
        )
        if not isfinite(estimate.high) or estimate.high > panel.top:
            words = plain(rounded(high, 0)) if isfinite(estimate.high) else "no bound"
            parts.append(
                f'<path class="beyond {looks}" d="M{panel.right:g} {y - 5:g}l7 5l-7 5z"/>'
                f'<text class="tick" text-anchor="end" x="{panel.right:g}" y="{y - 10:g}">{words}</text>'
            )
    return "".join(parts)


def _dots(row: Row, panel: _Panel, middle: float, looks: str, room: float) -> str:
    if not row.fixes:
        return f'<text class="unknown" x="{panel.left + 4:g}" y="{middle + 4:g}">no start noted</text>'
    parts = []
    shown = sorted((dot for dot in row.fixes if dot.seconds <= panel.top), key=lambda dot: dot.seconds)
    places = [panel.x(dot.seconds) for dot in shown]
    for dot, x, aside in zip(shown, places, _apart(places, room - DOT_PX), strict=True):
        title = f"<title>{_fix_words(row, dot)}</title>"
        parts.append(
            f'<circle class="dot {looks}" cx="{x:g}" cy="{middle + aside:g}" r="{DOT_PX:g}">{title}</circle>'
        )
    median = row.median_fix.median
    if isfinite(median) and median <= panel.top:
        x = panel.x(median)
        parts.append(f'<path class="median {looks}" d="M{x:g} {middle - 15:g}V{middle + 15:g}"/>')
    far = sorted((dot for dot in row.fixes if dot.seconds > panel.top), key=lambda dot: dot.seconds)
    if far:
        x, title = panel.right, "; ".join(_fix_words(row, dot) for dot in far)
        words = ", ".join(plain(rounded(dot.seconds, 0)) for dot in far[-MOST_FAR:])
        parts.append(
            f'<path class="beyond {looks}" d="M{x - 7:g} {middle - 5:g}l7 5l-7 5z">'
            f"<title>{title}</title></path>"
            f'<text class="tick" text-anchor="end" x="{x:g}" y="{middle + 17:g}">{words}</text>'
        )
    return "".join(parts)


def _fix_words(row: Row, dot: FixDot) -> str:
    ride, route = printable(dot.ride, 12), printable(dot.route, 30)
    return escape(f"{row.name}, ride {ride}, {route}: {plain(rounded(dot.seconds))} s")


def _apart(places: Sequence[float], room: float) -> list[float]:
    """Return how far above or below its row each of the dots (from left to right) stands to be seen alone.

    They keep within ``room`` to either side; what finds no place there lies on the row.
    """
    levels = [0.0]
    for step in range(1, int(room // DOT_STEP_PX) + 1):
        levels += [-step * DOT_STEP_PX, step * DOT_STEP_PX]
    placed: list[Span] = []
    for x in places:
        near = [y for other, y in placed if x - other < DOT_STEP_PX]
        placed.append((x, next((y for y in levels if y not in near), 0.0)))
    return [y for _, y in placed]


# --- scales and figures ------------------------------------------------------------------------------


def _top_m(rows: Sequence[Row]) -> float:
    """Return the end of the scale of spreads: all values, and bounds up to some times the largest."""
    every = [estimate for row in rows for estimate in row.spreads]
    largest = max((e.value for e in every if isfinite(e.value)), default=1.0)
    bound = max((e.high for e in every if isfinite(e.high)), default=largest)
    return _even(max(min(bound, FAR_BOUND * largest), 1.1 * largest, 1.0))


def _top_s(rows: Sequence[Row]) -> float:
    every = np.array([dot.seconds for row in rows for dot in row.fixes])
    if not every.size:
        return LEAST_SCALE_S
    usual = FAR_FIXES * float(np.percentile(every, 75))
    shown = every[every <= usual]
    return _even(max(LEAST_SCALE_S, float(shown.max() if shown.size else every.max())))


def _top_percent(rows: Sequence[Row]) -> float:
    every = [100.0 * e.value for row in rows for e in row.strays if isfinite(e.value)]
    return _even(max(LEAST_SCALE_PERCENT, max(every, default=0.0)))


def _step(top: float) -> float:
    """Return the distance of ticks: at most four of them."""
    power = 10.0 ** np.floor(np.log10(top / 3.0))
    return float(next(power * s for s in (1, 2, 5, 10) if top / (power * s) <= 3.0))


def _even(value: float) -> float:
    return float(_step(value) * np.ceil(value / _step(value) - 1e-9))


def _interval(estimate: m.Estimate) -> str:
    value, low, high = rounded_interval(estimate.value, estimate.low, estimate.high)
    return "not known" if value is None else f"{value:.1f} m ({plain(low)} to {plain(high)} m)"


def _metres(estimate: m.Estimate) -> str:
    value = rounded_interval(estimate.value, estimate.low, estimate.high)[0]
    return "" if value is None else f"{value:.1f}"


def _median(row: Row) -> str:
    median = row.median_fix.median
    return plain(rounded(median, 0)) if isfinite(median) else ""


def _stray(row: Row) -> str:
    known = [e.value for e in row.strays if isfinite(e.value)]
    return plain(rounded(100 * known[0], 0)) if len(known) == 1 else ""
