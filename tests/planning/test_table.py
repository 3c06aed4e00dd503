"""Plans from typed figures: the more rides, the better known, and the answer is the first row that is enough.

Source: the interval of a standard deviation by chi-square with n - 1 degrees of freedom (any textbook), from
``scipy.stats``.
"""

from __future__ import annotations

import csv

import numpy as np
import pytest
from scipy import stats

from trackspread.planning.table import plan_csv, ride_plans

(PLAN,) = ride_plans(None, 0.2, 1.5, 0.8, 0.95, None, None)


def test_more_rides_know_more() -> None:
    within = [row.within for row in PLAN.rows]
    together = [row.ratio_together for row in PLAN.rows]
    assert within == sorted(within, reverse=True)
    assert together == sorted(together, reverse=True)
    assert all(row.ratio_together >= 1.0 for row in PLAN.rows)


@pytest.mark.parametrize("number", range(0, len(PLAN.rows), 3))
def test_the_factors_are_those_of_chi_square(number: int) -> None:
    row = PLAN.rows[number]
    low, high = (np.sqrt(row.dof / stats.chi2.ppf(p, row.dof)) for p in (0.975, 0.025))
    assert (row.low_factor, row.high_factor) == pytest.approx((low, high), rel=1e-6)


def test_the_file_has_a_row_for_every_row() -> None:
    rows = list(csv.DictReader(plan_csv([PLAN]).splitlines()))
    assert [int(row["rides"]) for row in rows] == [row.rides for row in PLAN.rows]
    assert float(rows[0]["within"]) == pytest.approx(PLAN.rows[0].within, rel=1e-5)
