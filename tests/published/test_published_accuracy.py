"""Horizontal accuracy at 95 % against the national standard that defines it, and its exact factor."""

from __future__ import annotations

import math

import numpy as np
import pytest

from trackspread.results.words.reasons import said
from trackspread.statistics.reference import NSSDA_HORIZONTAL, accuracy_95


def test_nssda_factor_of_equal_axes() -> None:
    """FGDC-STD-007.3-1998, App. 3-A: 1.7308 RMSE_r where RMSE_x = RMSE_y (read in a transcription)."""
    rmse = 1.3
    assert accuracy_95(rmse, rmse, 25).value == pytest.approx(1.7308 * math.hypot(rmse, rmse), rel=5e-5)
    assert pytest.approx(math.sqrt(-2 * math.log(0.05)), abs=5e-5) == NSSDA_HORIZONTAL


def test_nssda_unequal_axes_and_its_limit() -> None:
    """App. 3-A: 2.4477 * 0.5 * (RMSE_x + RMSE_y), if 0.6 <= RMSE_min / RMSE_max <= 1."""
    assert accuracy_95(0.8, 1.0, 20).value == pytest.approx(2.4477 * 0.9, rel=1e-9)
    assert accuracy_95(0.6, 1.0, 20).value == pytest.approx(1.9582, abs=5e-5)
    refused = accuracy_95(0.59, 1.0, 20)
    assert math.isnan(refused.value)
    assert "0.6" in said(refused.reason)


def test_nssda_asks_for_twenty_check_points() -> None:
    """Section 3.2.2: at least 20 check points (one may fail at 95 %)."""
    assert math.isfinite(accuracy_95(1.0, 1.0, 20).value)
    refused = accuracy_95(1.0, 1.0, 19.4)
    assert math.isnan(refused.value)
    assert "20" in said(refused.reason)


def test_against_a_line_one_axis_is_left() -> None:
    """App. 3-A, vertical: 1.9600 RMSE of the one axis that can be seen."""
    told = accuracy_95(1.0, math.nan, 100)
    assert math.isnan(told.value)
    assert "2.0 m" in said(told.reason)


def test_nssda_holds_its_95_percent_for_round_errors() -> None:
    """The definition itself: 95 of 100 normal errors lie within (Rayleigh; 200,000 drawn, 0.05 % error)."""
    error = np.random.default_rng(5).standard_normal((2, 200_000)) * 2.2
    rmse = np.sqrt((error**2).mean(axis=1))
    within = np.hypot(*error) <= accuracy_95(float(rmse[0]), float(rmse[1]), 200_000).value
    assert within.mean() == pytest.approx(0.95, abs=0.0015)
