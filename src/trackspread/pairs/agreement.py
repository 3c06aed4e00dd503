"""Limits of agreement of two receivers (Bland & Altman), with one and with several readings of a subject."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackspread.model import Floats

NORMAL_95 = 1.96  # standard deviations, Φ⁻¹(0.975): the limits of Bland & Altman (1986)


@dataclass(frozen=True, kw_only=True, slots=True)
class Agreement:
    """Mean difference, standard deviation of a single difference, and its 95 % limits."""

    bias: float
    sd: float
    low: float
    high: float


def _limits(bias: float, variance: float) -> Agreement:
    sd = float(np.sqrt(variance))
    return Agreement(bias=bias, sd=sd, low=bias - NORMAL_95 * sd, high=bias + NORMAL_95 * sd)


def linked_replicates(difference: Floats) -> Agreement | None:
    """Return limits where both read at once, so that only differences count, shape (n, m), NaN = none.

    Subjects are the segments, replicates the rides. One-way analysis of variance of the differences: the
    variance of a single one is that within subjects and that between, (MS_b - MS_w) / m0, with m0 =
    ((sum m)^2 - sum m^2) / ((n - 1) sum m) for unequal numbers (Bland & Altman 1999, section 5.2);
    a negative part between counts as none. With one reading of each it is the mean -+ 1.96 SD of Bland &
    Altman (1986), Lancet i:307. ``None`` below two subjects with a difference.

    Parameters
    ----------
    difference : ndarray, shape (n, m)
        Differences of m replicates at n places, metres, NaN = none.

    Returns
    -------
    Agreement or None
    """
    known = np.isfinite(difference)
    m = known.sum(axis=1).astype(float)
    difference, known, m = difference[m > 0], known[m > 0], m[m > 0]
    n, total = len(m), float(m.sum())
    if n < 2:
        return None
    mean = np.nansum(difference, axis=1) / m
    grand = float(np.nansum(difference) / total)
    between = float(np.sum(m * (mean - grand) ** 2)) / (n - 1)
    if total - n < 1:
        return _limits(grand, between)
    within = float(np.nansum((difference - mean[:, None]) ** 2)) / (total - n)
    m0 = (total**2 - float(np.sum(m**2))) / ((n - 1) * total)
    return _limits(grand, within + max((between - within) / m0, 0.0))
