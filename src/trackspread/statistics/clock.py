"""The offset between the clocks of two receivers ridden together, and which traces may be companions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trackspread.core.distributions import t_quantile
from trackspread.core.robust import MAD_TO_SD
from trackspread.model import Estimate, Floats, Ints
from trackspread.statistics.effective import Along, mean_estimate

INCREMENT_S = 10.0
STEPS = 12
NEAR_S = 30.0
HOUR_S = 3600.0
QUARTER_S = 900.0
MOST_SHIFT_S = 14.0 * HOUR_S
MOST_WANDER_S = 6.0
LEAST_COMMON = 20
DAY_S = 86_400.0
LEAST_INCREMENTS = 12
STEADY_S = 3.0


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Clock:
    """Clock of a less clock of b: pooled, and by ride, shape (R,), NaN where there are no times."""

    pooled: Estimate
    by_ride_s: Floats


def clock_offset(a_s: Floats, b_s: Floats, station_m: Floats, along: Along, confidence: float) -> Clock:
    """Estimate by how much the clock of a is ahead of that of b.

    Two estimates are combined by their inverse variances. The level: t_a - t_b at a station is the clock
    offset and the along-track separation over the speed; its middle over moving stations is right but for
    the mean separation. The pace: both are moved by one rider, so the moments of stopping, starting and
    changing speed are the same; the shift is sought at which the distance made in 10 s by both agrees
    best. Stops make it sharp.

    Parameters
    ----------
    a_s, b_s : ndarray, shape (R, S)
        When a and b passed each station on each ride that they share, seconds UTC.
    station_m : ndarray, shape (S,)

    Notes
    -----
    With several rides the scatter between them widens both errors where it exceeds what the rides themselves
    say (Birge 1932, Phys. Rev. 40:207; for the level the standard error of the mean of rides). Offsets
    of hours, time zones, need no search: the same station of the same ride tells them. Where the rides
    differ by more than 3 s and more than their errors allow, the clocks were set between them: then
    there is an offset for each ride and none for all.
    """
    late = a_s - b_s
    start = np.array([_middle(row) for row in late])
    timed = np.isfinite(start)
    if not timed.any():
        return Clock(pooled=Estimate(reason="no times to compare"), by_ride_s=start)
    shifts, errors, changes = start.copy(), np.full(len(start), np.inf), np.zeros(len(start))
    for ride in np.flatnonzero(timed):
        shifts[ride], errors[ride], changes[ride] = _pace(a_s[ride], b_s[ride], station_m, float(start[ride]))
    middle = float(np.median(start[timed]))
    if np.ptp(start[timed]) > NEAR_S:
        return _unsteady(np.where(np.isfinite(errors), shifts, start))
    level, level_error = mean_estimate(_tamed(late - middle), along, confidence)
    wander_s = float(np.std(start[timed], ddof=1) / np.sqrt(timed.sum())) if timed.sum() > 1 else 0.0
    errors_s = level_error, wander_s
    return _combined(shifts, errors, float(changes.sum()), middle + level.value, errors_s, confidence)


def _middle(late_s: Floats) -> float:
    known = late_s[np.isfinite(late_s)]
    return float(np.median(known)) if len(known) else float("nan")


def _tamed(late_s: Floats) -> Floats:
    """Pull in what stops throw out: the stations between where a and where b stood, beyond 3 scales."""
    known = np.isfinite(late_s)
    scale = MAD_TO_SD * float(np.median(np.abs(late_s[known] - np.median(late_s[known]))))
    centre = float(np.median(late_s[known]))
    return np.asarray(np.clip(late_s, centre - 3.0 * scale, centre + 3.0 * scale))


def _unsteady(by_ride_s: Floats) -> Clock:
    known = by_ride_s[np.isfinite(by_ride_s)]
    words = f"the clocks were set between rides: a is ahead by {told(known.min())} to {told(known.max())}"
    return Clock(pooled=Estimate(reason=words), by_ride_s=by_ride_s)


def _combined(
    shifts: Floats,
    errors: Floats,
    changes: float,
    level: float,
    level_errors: tuple[float, float],
    confidence: float,
) -> Clock:
    """Weigh pace and level; ``level_errors`` are that of the mean and that of the mean of rides.

    What the scatter of rides says has rides - 1 degrees of freedom; the more of the figure hangs on it, the
    fewer has the whole (Satterthwaite 1946).
    """
    usable = np.isfinite(errors) & (errors > 0)
    weight = np.where(usable, 1.0 / np.where(usable, errors, 1.0) ** 2, 0.0)
    rides, total = int(usable.sum()), float(weight.sum())
    pace = float(np.sum(weight * np.where(usable, shifts, 0.0)) / total) if rides else level
    scatter = np.sum(weight * (np.where(usable, shifts, 0.0) - pace) ** 2)
    birge = float(np.sqrt(scatter / (rides - 1))) if rides > 1 else 1.0
    if rides > 1 and birge > 4.0 and np.ptp(shifts[usable]) > STEADY_S:
        return _unsteady(np.where(usable, shifts, np.nan))
    level_error = max(level_errors)
    precision = [total / max(birge, 1.0) ** 2, 1.0 / level_error**2 if level_error > 0 else 0.0]
    if sum(precision) <= 0:
        return Clock(
            pooled=Estimate(value=level, reason="too few stations for an interval"), by_ride_s=shifts
        )
    value = (precision[0] * pace + precision[1] * level) / sum(precision)
    scattered = precision[0] + precision[1] * (level_errors[1] >= level_errors[0])
    dof = (rides - 1) * (sum(precision) / scattered) ** 2 if rides > 1 else max(changes - 2.0, 1.0)
    half = float(t_quantile(0.5 + confidence / 2.0, dof) / np.sqrt(sum(precision)))
    pooled = Estimate(value=value, low=value - half, high=value + half)
    return Clock(pooled=pooled, by_ride_s=np.where(np.isfinite(shifts), value, np.nan))


def _pace(a_s: Floats, b_s: Floats, station_m: Floats, start_s: float) -> tuple[float, float, float]:
    """Return the shift at which a and b make the same way in the same 10 s, its error, and what carries it.

    Gauss-Newton on the way made by a less that made by b, over intervals that do not overlap; those beyond
    4 scales (where one of them jumped) do not count. ``inf`` where the pace never changes enough. The
    error is the larger of the usual one and that which allows for errors that grow where the pace changes
    (White 1980, Econometrica 48:817), widened for the few changes of pace that carry it.
    """
    known_a, known_b = np.isfinite(a_s), np.isfinite(b_s)
    time_a, way_a = _rising(a_s[known_a] - start_s, station_m[known_a])
    time_b, way_b = _rising(b_s[known_b], station_m[known_b])
    first, last = max(time_a[0], time_b[0]) + 1.0, min(time_a[-1], time_b[-1]) - 1.0
    edges = np.arange(first, last, INCREMENT_S)
    if len(edges) < LEAST_INCREMENTS:
        return start_s, float("inf"), 0.0
    made_b, shift = np.diff(np.interp(edges, time_b, way_b)), 0.0
    for _ in range(STEPS):
        apart = np.diff(np.interp(edges + shift, time_a, way_a)) - made_b
        speed = _speed(edges + shift, time_a, way_a) + _speed(edges, time_b, way_b)
        gain = 0.5 * np.diff(speed)
        scale = MAD_TO_SD * float(np.median(np.abs(apart)))
        used = np.abs(apart) <= max(4.0 * scale, 0.5)
        power = float(np.sum(gain[used] ** 2))
        if power < 1e-6:
            return start_s, float("inf"), 0.0
        step = -float(np.sum(gain[used] * apart[used])) / power
        shift = float(np.clip(shift + np.clip(step, -3.0, 3.0), -NEAR_S, NEAR_S))
        if abs(step) < 1e-3:
            break
    even = max(float(np.mean(apart[used] ** 2)), 1e-4) / power
    changes = power**2 / float(np.sum(gain[used] ** 4))
    uneven = float(np.sum((gain[used] * apart[used]) ** 2)) / power**2
    uneven *= changes / max(changes - 2.0, 0.5)
    return start_s + shift, float(np.sqrt(max(even, uneven))), changes


def _rising(time_s: Floats, station_m: Floats) -> tuple[Floats, Floats]:
    """Return the crossings that come after all earlier ones."""
    best = np.maximum.accumulate(time_s)
    keep = np.concatenate([[True], time_s[1:] > best[:-1]])
    return time_s[keep], station_m[keep]


def _speed(at_s: Floats, time_s: Floats, way_m: Floats) -> Floats:
    """Return the speed over four seconds around instants."""
    return np.asarray((np.interp(at_s + 2.0, time_s, way_m) - np.interp(at_s - 2.0, time_s, way_m)) / 4.0)


def along_separation(a_s: Floats, b_s: Floats, station_m: Floats, clock_s: Floats) -> Floats:
    """Return where a is when b is at each station, less that station, metres, shape (R, S).

    ``clock_s``, shape (R,), is the clock of a less that of b on each ride.
    """
    out = np.full(a_s.shape, np.nan)
    for ride, clock in enumerate(clock_s):
        known = np.isfinite(a_s[ride])
        if not np.isfinite(clock) or known.sum() < 2:
            continue
        time, way = _rising(a_s[ride, known] - clock, station_m[known])
        out[ride] = np.interp(b_s[ride], time, way, left=np.nan, right=np.nan) - station_m
    return out


def told(seconds: float) -> str:
    """Return a clock offset in words: seconds, hours or days.

    >>> told(1.24), told(3600.9), told(-172800.0)
    ('1.2 s', '1 h 1 s', '-2 days')
    """
    sign, size = ("-" if seconds < 0 else ""), abs(seconds)
    if size >= DAY_S:
        return f"{sign}{size / DAY_S:.4g} days"
    if round(size) >= HOUR_S:
        hours, rest = divmod(round(size), int(HOUR_S))
        return f"{sign}{hours} h {rest} s" if rest else f"{sign}{hours} h"
    return f"{sign}{size:.1f} s"


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
