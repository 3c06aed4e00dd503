"""The rows of the first picture: one a watch, with every first fix."""

from __future__ import annotations

from records import fuller, make_analysis
from trackspread.report.answer import rows_of


def test_a_row_holds_every_first_fix_of_its_watch_or_counts_it_as_unknown() -> None:
    analysis = make_analysis()
    rows = rows_of(analysis)
    assert sorted(row.name for row in rows) == sorted(
        {trace.receiver for route in analysis.routes for trace in route.traces}
    )
    traces = sum(len(route.traces) for route in analysis.routes)
    assert sum(len(row.fixes) + row.without_start for row in rows) == traces
    assert len({row.slot for row in rows}) == len(rows)


def test_with_a_comparison_there_is_one_spread_and_without_one_a_route() -> None:
    analysis = make_analysis()
    alone = rows_of(make_analysis(routes=1))
    assert all(len(row.spreads) == len(row.strays) == 1 for row in alone)
    compared = fuller(analysis)
    for row, summary in zip(rows_of(compared), compared.comparison.receivers, strict=True):
        assert row.spreads == (summary.spread,)
        assert row.group == summary.group
