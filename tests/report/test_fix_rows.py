"""A row of the chart of fixes: a ring, a disc, an arrow for never, words for unknown."""

from __future__ import annotations

from dataclasses import replace

import pytest

from records import make_analysis
from trackspread import model as m
from trackspread.report.axes import Axes
from trackspread.report.fix_rows import fix_row

NAN = float("nan")


class Noted(Axes):
    """Axes that note the marks drawn on them."""

    def __init__(self) -> None:
        self.marks: list[tuple[object, ...]] = []

    def line(self, x, y, *look, **more):
        self.marks.append(("line", *map(float, x)))

    def disc(self, x, y, *look, **more):
        self.marks.append(("disc", x))

    def arrow(self, x, y, *look, **more):
        self.marks.append(("arrow", x))

    def words(self, words, x, y, *look, **more):
        self.marks.append((words, x))


@pytest.mark.parametrize(
    ("first", "settled", "never", "marks"),
    [
        (4.0, 9.0, False, [("line", 4.0, 9.0), ("disc", 4.0), ("disc", 9.0)]),
        (4.0, NAN, True, [("disc", 4.0), ("line", 6.0, 98.5), ("arrow", 98.5)]),
        (NAN, 9.0, False, [("disc", 9.0), ("first fix unknown", 9.0)]),
        (NAN, NAN, False, [("unknown", 0.0)]),
    ],
)
def test_every_state_has_its_mark(
    first: float, settled: float, never: bool, marks: list[tuple[object, ...]]
) -> None:
    trace: m.TraceResult = make_analysis(routes=1).routes[0].traces[0]
    trace = replace(
        trace, first_fix=replace(trace.first_fix, value_s=first),
        settled_fix=replace(trace.settled_fix, value_s=settled, censored=never),
    )  # fmt: skip
    axes = Noted()
    fix_row(axes, 0, trace, "ink", 100.0)
    assert axes.marks == marks
