"""Headlines of a pair are the figures of the document, with the reason where there is none."""

from __future__ import annotations

from records import make_analysis
from trackspread.report.headlines import pair_headlines
from trackspread.results.document import result_document


def test_every_figure_of_a_pair_is_shown_once_with_its_interval_or_reason() -> None:
    pair = result_document(make_analysis(routes=1))["routes"][0]["pairs"][0]
    shown = pair_headlines(pair)
    assert len({line.label for line in shown}) == len(shown) == 6
    assert shown[0].value == f"{pair['sd_a']['value_m']} m"
    assert shown[0].note.startswith(f"{pair['sd_a']['low_m']} to ")
    assert shown[2].value == "not known"
    assert shown[2].note == pair["common_sd"]["reason"][:100]
