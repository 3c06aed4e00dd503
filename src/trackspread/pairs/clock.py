"""The offset between the clocks of two receivers ridden together, and which traces may be companions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackspread.model import Estimate, Floats, Ints, Reason
from trackspread.noise.effective import Along
from trackspread.noise.gauss_markov import TIME_UNIT_S, Kinds, grid, weights, whitened
from trackspread.numeric.distributions import chi2_quantile, t_mixture_quantile
from trackspread.numeric.runs import evenly
from trackspread.pairs.motion import Motion, motion, rising

NEAR_S, CLOSE_S = 30.0, 0.01  # s around an offset that are searched; s of move at which it rests
MOST_STEP_S = 3.0  # s of one step, for the expansion holds nearby only
PASSES, OWN_PASSES = 6, 3  # turns of the search, and first ones with an offset a ride
MOST_RIDES_ASKED = 8  # rides of the first pass, bounds the work
LEAST_KIND_WEIGHT = 1e-3  # share of the best kind's weight below which a kind is dropped
LEAST_INSTANTS = 12  # instants more than rides that an offset needs
LEAST_SQUARE_M2 = 1e-6  # m², no smaller variance: copies have none
LEAST_CROSS = 0.1  # share of the power of speed that keeps the solution finite
HOUR_S = 3600.0  # s in an hour
QUARTER_S = 900.0  # s, zones differ by whole quarters of an hour (tz database)
MOST_SHIFT_S = 14.0 * HOUR_S
MOST_WANDER_S = 6.0  # s by which passing times of one ride may wander about the shift
LEAST_COMMON = 20  # stations that both passed, fewer tell no shift
STEADY_S, STEADY_RATIO = 3.0, 4.0
"""Seconds between rides, and standard deviations, from which a clock was set between them."""
TRUST_DOF = 20.0  # degrees of freedom that the errors of a clock are trusted like
CLOCKS_SET = "clocks_set"
"""Code of the reason for no common offset: ``low_s``, ``high_s``, and who is ahead once that has a name."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Clock:
    """Clock of a less clock of b: pooled, and by ride, shape (R,), NaN where there are no times."""

    pooled: Estimate
    by_ride_s: Floats


def clock_offset(a_s: Floats, b_s: Floats, station_m: Floats, along: Along, confidence: float) -> Clock:
    """Estimate by how much the clock of a is ahead of that of b.

    Where a is ahead of b at one moment of their clocks is what their errors make of it, less the offset times
    the rider's speed: the offset is the regression of the one on the other. Stops, starts and bends
    make it sharp; where the speed never changes, the mean of the errors, which is nothing, tells it.

    Parameters
    ----------
    a_s, b_s : ndarray, shape (R, S)
        When a and b passed each station on each ride that they share, seconds UTC.
    station_m : ndarray, shape (S,)
    along : Along
        Step and direction of the line.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    Clock

    Notes
    -----
    Generalised least squares, as errors wander: under every kind of error (`gauss_markov`) there is an
    offset, its error and the likelihood of what is left (restricted: Patterson & Thompson 1971, Biometrika
    58:545, from memory; `weights`); mixed they give figure and interval. How large their errors really are
    is trusted like `TRUST_DOF` degrees of freedom, and the scatter of the rides adds rides - 1 to those
    (moderated variance: Smyth 2004, Stat. Appl. Genet. Mol. Biol. 3:3, with Student's t). Where rides differ
    by more than their errors allow, which chance would do in 1 - ``confidence`` of cases, their scatter alone
    counts (Birge 1932, Phys. Rev. 40:207), with rides - 1 degrees of freedom. Offsets of hours, time zones,
    need no search: the same station of the same ride tells them. Where the rides differ by more than 3 s and
    four times what their errors allow, the clocks were set between them: then there is an offset for each
    ride and none for all.
    """
    start = np.array([_middle(row) for row in a_s - b_s])
    timed = np.isfinite(start)
    if not timed.any():
        return Clock(pooled=Estimate(reason=Reason("no_common_times")), by_ride_s=start)
    rows = np.flatnonzero(timed)
    fits = _fits(a_s[rows], b_s[rows], start[rows], station_m, along)
    by_ride = start.copy()
    if fits is None:
        if np.ptp(start[rows]) > NEAR_S:
            return _unsteady(start)
        middle = float(np.median(start[rows]))
        pooled = Estimate(value=middle, reason=Reason("few_stations_for_interval"))
        return Clock(pooled=pooled, by_ride_s=np.where(timed, middle, np.nan))
    by_ride[rows] = fits.by_ride_s()
    if np.ptp(start[rows]) > NEAR_S or fits.unsteady():
        return _unsteady(by_ride)
    pooled = fits.pooled(confidence)
    return Clock(pooled=pooled, by_ride_s=np.where(timed, pooled.value, np.nan))


def _middle(late_s: Floats) -> float:
    known = late_s[np.isfinite(late_s)]
    return float(np.median(known)) if len(known) else float("nan")


def _unsteady(by_ride_s: Floats) -> Clock:
    known = by_ride_s[np.isfinite(by_ride_s)]
    reason = Reason.of(CLOCKS_SET, low_s=float(known.min()), high_s=float(known.max()))
    return Clock(pooled=Estimate(reason=reason), by_ride_s=by_ride_s)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Fits:
    """Regressions of the rides, (R,), under kinds of error of posterior ``weight``, (K,).

    ``offset_s`` and ``power``, (K, R): the offset of a ride and what it weighs; ``error_s``, (K, R), its
    standard error, ``inf`` where a ride tells nothing.
    """

    weight: Floats
    square_m2: Floats
    offset_s: Floats
    power: Floats
    error_s: Floats

    def by_ride_s(self) -> Floats:
        """Return the offset of each ride on its own, (R,)."""
        return np.asarray(self.weight @ self.offset_s)

    def common_s(self) -> Floats:
        """Return the offset of all rides under each kind, (K,)."""
        return np.asarray((self.power * self.offset_s).sum(axis=1) / self.power.sum(axis=1))

    def scatter(self) -> tuple[float, int]:
        """Return chi-square of the rides about their mean, and its degrees of freedom."""
        error = np.sqrt(self.weight @ self.error_s**2)
        told_s, error = self.by_ride_s()[np.isfinite(error)], error[np.isfinite(error)]
        mean = np.average(told_s, weights=error**-2.0)
        return float(np.sum(((told_s - mean) / error) ** 2)), len(told_s) - 1

    def unsteady(self) -> bool:
        """Return whether the clocks were set between rides."""
        square, dof = self.scatter()
        usable = np.isfinite(self.error_s).all(axis=0)
        wide = float(np.ptp(self.by_ride_s()[usable])) > STEADY_S
        return dof > 0 and wide and square > dof * STEADY_RATIO**2

    def pooled(self, confidence: float) -> Estimate:
        """Return the offset of all rides with its interval."""
        centre = self.common_s()
        share = self.power / self.power.sum(axis=1, keepdims=True)
        error = np.sqrt(np.sum((share * np.where(share > 0.0, self.error_s, 0.0)) ** 2, axis=1))
        square, rides = self.scatter()
        dof = TRUST_DOF + rides
        ratio = (TRUST_DOF + square) / dof
        if rides > 0 and square > chi2_quantile(confidence, rides):
            ratio, dof = square / rides, float(rides)
        error = error * np.sqrt(ratio)
        ends = np.array([0.5 - 0.5 * confidence, 0.5 + 0.5 * confidence])
        low, high = t_mixture_quantile(ends, self.weight, centre, error, dof).tolist()
        return Estimate(value=float(self.weight @ centre), low=low, high=high)


def _fits(a_s: Floats, b_s: Floats, start_s: Floats, station_m: Floats, along: Along) -> _Fits | None:
    """Return the regressions about the offsets that they give: first ride by ride, then about the common one.

    The first pass asks `MOST_RIDES_ASKED` rides which kinds of error are worth going on with.
    """
    kinds, at_s, rides = grid(), start_s.copy(), np.arange(len(start_s))
    for turn in range(PASSES):
        rows = np.array(evenly(len(rides), MOST_RIDES_ASKED)) if turn == 0 else rides
        found = motion(a_s[rows], b_s[rows], at_s[rows], station_m, along)
        ahead = found.columns[:, :, 0]
        if np.isfinite(ahead).sum() < LEAST_INSTANTS + len(rows):
            return None
        if turn == 0:
            square = np.full(len(kinds.prior), float(np.nanmean(ahead**2)))
            if square[0] < LEAST_SQUARE_M2:
                return None
        fits = _regressed(found, at_s[rows], kinds, square)
        if not (fits.power > 0.0).any():
            return None
        worth = fits.weight > LEAST_KIND_WEIGHT * fits.weight.max()
        kinds, square = kinds.of(worth), fits.square_m2[worth]
        before = at_s.copy()
        if turn < OWN_PASSES or fits.unsteady():
            step = np.clip(fits.by_ride_s() - at_s[rows], -MOST_STEP_S, MOST_STEP_S)
            at_s[rows] = np.clip(at_s[rows] + step, start_s[rows] - NEAR_S, start_s[rows] + NEAR_S)
        else:
            at_s[:] = fits.weight @ fits.common_s()
        if turn > OWN_PASSES and np.abs(at_s - before).max() < CLOSE_S:
            break
    return fits


def _regressed(found: Motion, at_s: Floats, kinds: Kinds, square_m2: Floats) -> _Fits:
    """Return the regressions of one motion about offsets ``at_s``, (R,), taken off its times.

    The speed is the mean of two measured ones. Its own errors make the regressor seem to tell more than it
    does; the product of the two, whose errors are independent, does not (one as instrument for the other).
    """
    unseen = 1.0 - np.sum(found.direction**2, axis=2)
    noise = found.hidden_m2 / square_m2[:, None, None] + unseen
    at = np.arange(found.columns.shape[1]) * found.step_s / TIME_UNIT_S
    gram, log_det = whitened(found.columns, noise, found.direction, at, kinds)
    ahead_square = gram[:, :, 0, 0]
    score = gram[:, :, 0, 1:].mean(axis=2)
    power = gram[:, :, 1:, 1:].mean(axis=(2, 3))
    cross = np.maximum(gram[:, :, 1, 2], LEAST_CROSS * power)
    tells = cross > 0.0
    safe_cross = np.where(tells, cross, 1.0)
    safe_power = np.where(tells, power, 1.0)
    explained = np.where(tells, score**2 / safe_power, 0.0)
    residual_square = np.sum(ahead_square - explained, axis=1)
    known = np.isfinite(found.columns[:, :, 0])
    told = tells.all(axis=0)
    dof = float(known.sum() - told.sum())
    square = np.maximum(residual_square / dof, LEAST_SQUARE_M2)
    whole = (log_det + np.log(safe_power)).sum(axis=1)
    weight = weights(kinds.prior, whole, square, dof, float(told.sum()))
    error = np.sqrt(square[:, None] * power) / safe_cross
    return _Fits(
        weight=weight,
        square_m2=square,
        offset_s=at_s - np.where(tells, score / safe_cross, 0.0),
        power=np.where(tells, cross, 0.0),
        error_s=np.where(tells, error, np.inf),
    )


def along_separation(a_s: Floats, b_s: Floats, station_m: Floats, clock_s: Floats) -> Floats:
    """Return where a is when b is at each station, less that station, metres, shape (R, S).

    ``clock_s``, shape (R,), is the clock of a less that of b on each ride.

    Parameters
    ----------
    a_s : ndarray, shape (R, S)
        When a passed each station, seconds UTC, NaN unknown.
    b_s : ndarray, shape (R, S)
        When b did.
    station_m : ndarray, shape (S,)
        Stations, metres.
    clock_s : ndarray, shape (R,)
        Clock of a less that of b, seconds.

    Returns
    -------
    ndarray, shape (R, S)
    """
    out = np.full(a_s.shape, np.nan)
    for ride, clock in enumerate(clock_s):
        known = np.isfinite(a_s[ride])
        if not np.isfinite(clock) or known.sum() < 2:
            continue
        time, way = rising(a_s[ride, known] - clock, station_m[known])
        out[ride] = np.interp(b_s[ride], time, way, left=np.nan, right=np.nan) - station_m
    return out


# --- companions whose clocks are hours apart ---------------------------------------------------------


def find_companions(station_m: Floats, crossing_s: Floats, ride: Ints) -> list[tuple[int, int, float]]:
    """Propose which lone traces were ridden together although their clocks are whole hours apart.

    Parameters
    ----------
    station_m : ndarray, shape (S,)
    crossing_s : ndarray, shape (T, S)
        Times of passing each station, seconds UTC, NaN unknown.
    ride : ndarray of int, shape (T,)
        Ride of each trace as far as known; only traces alone on their ride are proposed.

    Returns
    -------
    list of (a, b, shift_s)
        Rows, and clock of a less clock of b: a multiple of a quarter of an hour (some zones differ by
        half and quarter hours) of at most 14 hours. Two rides of one rider never have the same stops
        and pace second by second; companions do: their times past the stations differ by a constant to within
        a few seconds along the whole way. Each trace appears once, best match first.
    """
    alone = np.flatnonzero(np.bincount(ride, minlength=int(ride.max(initial=0)) + 1)[ride] == 1)
    coarse = crossing_s[:, :: max(1, len(station_m) // 200)]
    known = np.isfinite(coarse)
    first = np.where(known, coarse, np.inf).min(axis=1)
    last = np.where(known, coarse, -np.inf).max(axis=1)
    found = []
    for i, a in enumerate(alone.tolist()):
        rest = alone[i + 1 :]
        near = (first[rest] - last[a] < MOST_SHIFT_S) & (first[a] - last[rest] < MOST_SHIFT_S)
        for b in rest[near].tolist():
            wander, hours = _whole_hours(coarse[a] - coarse[b])
            if wander < MOST_WANDER_S:
                found.append((wander, a, b, hours))
    taken: set[int] = set()
    out = []
    for _, a, b, hours in sorted(found):
        if not {a, b} & taken:
            taken |= {a, b}
            out.append((a, b, hours))
    return out


def _whole_hours(late_s: Floats) -> tuple[float, float]:
    """Return how far differences stray, ``inf`` if not around quarters of an hour, and those quarters."""
    late = late_s[np.isfinite(late_s)]
    if len(late) < LEAST_COMMON:
        return float("inf"), 0.0
    shift = float(np.median(late))
    hours = round(shift / QUARTER_S) * QUARTER_S
    if hours == 0.0 or abs(hours) > MOST_SHIFT_S or abs(shift - hours) > NEAR_S:
        return float("inf"), 0.0
    return float(np.quantile(np.abs(late - shift), 0.9)), hours
