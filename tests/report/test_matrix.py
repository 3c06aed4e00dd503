"""The matrix of pairs is what the document says, row minus column, and its own mirror image."""

from __future__ import annotations

import pytest

from records import make_analysis
from trackspread.report.matrix import pair_matrix
from trackspread.results.document import result_document


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


def test_without_a_pair_there_is_no_matrix() -> None:
    route = result_document(make_analysis(routes=1))["routes"][0]
    assert pair_matrix(route | {"pairs": []}, ["Alder", "Birch"]) is None
