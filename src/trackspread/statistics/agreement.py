"""Limits of agreement of two receivers (Bland & Altman), with one and with several readings of a subject."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackspread.model import Floats

NORMAL_95 = 1.96


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


def replicates(a: Floats, b: Floats) -> tuple[Agreement, float, float]:
    """Return limits from several readings of a constant subject by each, shapes (n, m_a) and (n, m_b).

    For receivers ridden on different rides: subjects are the segments, readings the rides.

    Variance of a single difference = variance of the differences of subject means + (1 - 1/m_a) s_wa^2
    + (1 - 1/m_b) s_wb^2 (Bland & Altman 1999, Stat. Methods Med. Res. 8:135, section 5.1). The two
    other figures are the variances within subjects, s_wa^2 and s_wb^2.
    """
    a, b = np.asarray(a, float), np.asarray(b, float)
    within_a, within_b = (float(np.mean(np.var(x, axis=1, ddof=1))) for x in (a, b))
    difference = a.mean(axis=1) - b.mean(axis=1)
    variance = float(np.var(difference, ddof=1))
    variance += (1.0 - 1.0 / a.shape[1]) * within_a + (1.0 - 1.0 / b.shape[1]) * within_b
    return _limits(float(np.mean(difference)), variance), within_a, within_b


def linked_replicates(difference: Floats) -> Agreement | None:
    """Return limits where both read at once, so that only differences count, shape (n, m), NaN = none.

    Subjects are the segments, replicates the rides. One-way analysis of variance of the differences: the
    variance of a single one is that within subjects and that between, (MS_b - MS_w) / m0, with m0 =
    ((sum m)^2 - sum m^2) / ((n - 1) sum m) for unequal numbers (Bland & Altman 1999, section 5.2);
    a negative part between counts as none. With one reading of each it is the mean -+ 1.96 SD of Bland &
    Altman (1986), Lancet i:307. ``None`` below two subjects with a difference.
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
