"""What the page draws of a pair: differences as in the record, no extreme lost, names as text."""

import dataclasses

import numpy as np

from records import make_analysis
from trackspread.report.charts.pair import MOST_COLUMNS, _farthest, pair_data, pair_figure

PAIR = make_analysis(routes=1).routes[0].pairs[0]


def test_figures_are_those_of_the_record():
    data = pair_data(PAIR)
    assert data["label"] == "Alder − Birch (m), right +"
    assert data["names"] == [f"Alder minus Birch, ride {ride}" for ride in PAIR.ride_names]
    assert data["bias"] == round(PAIR.bias_m.value, 1)
    step, across = data["step"], PAIR.separation_across_m
    assert all(len(line) == -(-across.shape[1] // step) <= MOST_COLUMNS for line in data["values"])
    drawn = np.array(
        [np.nanmax(np.abs(np.array(line, dtype=float) - data["bias"])) for line in data["values"]]
    )
    known = np.nanmax(np.abs(across - PAIR.bias_m.value), axis=1)
    assert np.abs(drawn - known).max() < 0.11, "rounded to 0.1 m, twice"


def test_a_gap_stays_a_gap():
    gap = np.full_like(PAIR.separation_across_m, np.nan)
    data = pair_data(dataclasses.replace(PAIR, separation_across_m=gap))
    assert {value for line in data["values"] for value in line} == {None}
    assert np.isnan(_farthest(np.full(5, np.nan), 0.0, 2)).all()


def test_names_are_one_line_of_text():
    figure = pair_figure(dataclasses.replace(PAIR, a="x\ny\u202e"), 3)
    assert figure["name"] == "pair-3"
    assert "\n" not in figure["title"]
    assert "\u202e" not in figure["title"]
