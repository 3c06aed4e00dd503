"""The chart of a pair: what the page draws once it is opened, and the words for who cannot see it.

With five watches there are ten pairs a route: as pictures they would be most of the page.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from trackspread import model as m
from trackspread.errors import printable
from trackspread.report.charts.chart import NARROW, SIDES_PX, WIDE
from trackspread.results.rounding import plain, rounded
from trackspread.results.words.names import shown_name

MOST_COLUMNS = 400  # columns, bounds its file


def pair_data(pair: m.PairResult) -> dict[str, Any]:
    """Return the across-track differences of a pair, its mean and its limits of agreement, for the page.

    After Bland & Altman (1986), with the station in place of the mean of the two.

    Parameters
    ----------
    pair : PairResult

    Returns
    -------
    dict
        Metres to 0.1, ``None`` where there is none. Of more stations than `MOST_COLUMNS` each block of
        ``step`` gives the difference farthest from the mean.
    """
    middle = pair.bias_m.value if np.isfinite(pair.bias_m.value) else 0.0
    step = max(1, -(-pair.separation_across_m.shape[1] // MOST_COLUMNS))
    a, b = shown_name(pair.a), shown_name(pair.b)
    return {
        "step": step,
        "label": f"{shown_name(pair.a, 14)} − {shown_name(pair.b, 14)} (m), right +",
        "names": [f"{a} minus {b}, ride {printable(ride, 12)}" for ride in pair.ride_names],
        "values": [_known(_farthest(ride, middle, step)) for ride in pair.separation_across_m],
        "bias": _known(np.array([pair.bias_m.value]))[0],
        "limits": _known(np.array(pair.limits_m)),
    }


def pair_figure(pair: m.PairResult, number: int) -> dict[str, Any]:
    """Return what the template of a page needs of a chart that its script draws once it is opened.

    Parameters
    ----------
    pair : PairResult
    number : int
        Of the pair on its route, from 0.

    Returns
    -------
    dict
        The names that `report.charts.chart.figure_of` gives of other charts, without pictures.
    """
    a, b = shown_name(pair.a, 14), shown_name(pair.b, 14)
    low, high = (plain(rounded(limit)) for limit in pair.limits_m)
    shares = [" ".join(f"{side / width:.4f}" for side in SIDES_PX[width]) for width in (WIDE[0], NARROW[0])]
    return {
        "name": f"pair-{number}",
        "title": f"{a} minus {b}, across the line",
        "about": "One line a ride. Band: 95 % limits of agreement. Line: mean difference.",
        "alt": f"Difference across the line on {pair.rides} rides together: mean "
        f"{plain(rounded(pair.bias_m.value))} m, limits of agreement {low} to {high} m.",
        "along": True,
        "walk": False,
        "pair": number,
        "reach": "",
        "wide_sides": shares[0],
        "narrow_sides": shares[1],
    }


def _farthest(values: m.Floats, middle: float, step: int) -> m.Floats:
    """Return of each block of ``step`` values the one farthest from ``middle``; NaN of a block without any.

    >>> _farthest(np.array([1.0, -3.0, np.nan, 2.0, np.nan, np.nan]), 0.0, 2)
    array([-3.,  2., nan])
    """
    padding = np.full(-len(values) % step, np.nan)
    blocks = np.append(values, padding).reshape(-1, step)
    away = np.where(np.isfinite(blocks), np.abs(blocks - middle), -1.0)
    return np.asarray(blocks[np.arange(len(blocks)), away.argmax(axis=1)])


def _known(values: m.Floats) -> list[float | None]:
    return [round(float(v), 1) if np.isfinite(v) else None for v in values]
