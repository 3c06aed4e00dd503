"""Fields of watches: what is written is read back, with the reason where there is no figure."""

from __future__ import annotations

from records import fuller, make_analysis
from trackspread.results.schema.receivers import COMPARISON, PAIR

ANALYSIS = fuller(make_analysis())


def test_every_watch_and_every_difference_is_written() -> None:
    compared = ANALYSIS.comparison
    assert compared is not None
    written = COMPARISON.written(compared, full=False)
    assert [one["receiver"] for one in written["receivers"]] == [one.receiver for one in compared.receivers]
    assert [(one["a"], one["b"]) for one in written["differences"]] == [
        (d.a, d.b) for d in compared.differences
    ]


def test_a_pair_has_a_sentence_and_intervals_around_its_figures() -> None:
    pair = ANALYSIS.routes[0].pairs[0]
    written = PAIR.written(pair, full=False)
    assert written["sentence"].endswith(".")
    for name in ("sd_a", "sd_b", "difference"):
        figure = written[name]
        if figure["value_m"] is not None:
            assert figure["low_m"] <= figure["value_m"] <= figure["high_m"]
