"""Headlines and matrix of pairs are the figures of the document, with the reason where there is none."""

from __future__ import annotations

import pytest

from records import make_analysis
from trackspread.report.pair_figures import pair_headlines, pair_matrix
from trackspread.results.document import result_document


def test_every_figure_of_a_pair_is_shown_once_with_its_interval_or_reason() -> None:
    pair = result_document(make_analysis(routes=1))["routes"][0]["pairs"][0]
    shown = pair_headlines(pair)
    assert len({line.label for line in shown}) == len(shown) == 6
    assert shown[0].value == f"{pair['sd_a']['value_m']} m"
    assert shown[0].note.startswith(f"{pair['sd_a']['low_m']} to ")
    assert shown[2].value == "not known"
    assert shown[2].note == pair["common_sd"]["reason"][:100]


def test_the_matrix_is_antisymmetric() -> None:
    route = result_document(make_analysis(routes=1))["routes"][0]
    names = [route["pairs"][0]["a"], route["pairs"][0]["b"]]
    found = pair_matrix(route, names)
    assert found is not None
    assert found["heads"] == names
    (diagonal, right), (left, other) = (row["cells"] for row in found["rows"])
    assert diagonal["text"] == other["text"] == ""
    value = route["pairs"][0]["difference"]["value_m"]
    assert float(right["text"].replace("−", "-")) == pytest.approx(value)
    assert float(left["text"].replace("−", "-")) == pytest.approx(-value)
    assert right["told"] == left["told"] == route["pairs"][0]["told_apart"]


def test_a_difference_that_was_told_apart_never_reaches_zero() -> None:
    """Ends that are rounded to 0 say on which side they lie; a zero has no sign."""
    route = result_document(make_analysis(routes=1))["routes"][0]
    pair = route["pairs"][0] | {
        "told_apart": True,
        "difference": {"value_m": -4.0, "low_m": -9.0, "high_m": -0.0},
    }
    found = pair_matrix(route | {"pairs": [pair]}, [pair["a"], pair["b"]])
    assert found is not None
    (_, right), (left, _) = (row["cells"] for row in found["rows"])
    assert [right["text"], right["note"]] == ["−4", "−9 to <0"]
    assert [left["text"], left["note"]] == ["+4", ">0 to 9"]
    none = pair | {"told_apart": False, "difference": {"value_m": 0.0, "low_m": -1.0, "high_m": 2.0}}
    mirrored = pair_matrix(route | {"pairs": [none]}, [pair["a"], pair["b"]])
    assert mirrored is not None
    assert [mirrored["rows"][1]["cells"][0][name] for name in ("text", "note")] == ["0", "−2 to 1"]


def test_without_a_pair_there_is_no_matrix() -> None:
    route = result_document(make_analysis(routes=1))["routes"][0]
    assert pair_matrix(route | {"pairs": []}, ["Alder", "Birch"]) is None
