"""One recording, one witness: find recordings that were exported twice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from scipy.spatial import cKDTree

from trackspread.geometry.crossings import Crossings
from trackspread.geometry.matching import Line
from trackspread.geometry.sphere import EARTH_RADIUS_M, places_m
from trackspread.model import Bools, Floats, Ints, Reason, Witness

MEDIAN_M = 0.12  # same recording: half of the offsets within, m
P90_M = 0.35  # same recording: 90 % within, m
LEAST_COMMON_M = 200.0  # m that both passed, fewer prove no copy
LEAST_SAME_SHARE = 0.5  # share of the shorter one that is the same
CLOCK_WANDER_S = 3.0  # s by which a shifted clock may seem to wander, three steps of a second
_SKETCH = 64  # stations of a first look, and m within which they are alike
_SKETCH_M = 1.0  # m apart at such a station
POINT_TOLERANCE_M = 0.1  # m besides the rounding of both files
POINT_SHARE = 0.95  # share of points that lie on the denser one
LEAST_SHARED_POINTS = 20  # points, fewer prove no copy
_PROBES = 24  # points of a first look, bounds the work
COARSEST_M = 1.0  # m of rounding beyond which points of all traces coincide


def same_recording(
    station_m: Floats, offset_m: Floats, crossing_s: Floats, points: Sequence[Floats] | None = None
) -> Ints:
    """Return a label for each trace, equal for traces that are one recording.

    Two rows are one recording where their offsets agree far closer than two receivers can: half of the
    differences within 0.12 m and 90 % within 0.35 m, over at least 200 m and half of the
    shorter of the two, while the times at which they pass the stations differ by one constant (a
    shifted clock) to within 3 s. Two receivers with errors of 1 m differ by 1 m and more, whatever they
    share: what is common to both drops out of a difference, so it cannot make them agree.

    Parameters
    ----------
    station_m : ndarray, shape (S,)
        Stations, metres.
    offset_m, crossing_s : ndarray, shape (T, S)
        Offsets, and times of passing each station, NaN unknown.
    points : sequence of ndarray, shape (P, 2), optional
        Logged longitude and latitude of each trace, degrees: then copies with points left out or coordinates
        rounded are found too.

    Returns
    -------
    ndarray of int, shape (T,)
        From 0.
    """
    count = len(offset_m)
    label = np.arange(count, dtype=np.int64)
    pairs = list(_alike_pairs(station_m, offset_m, crossing_s))
    if points is not None:
        pairs += _copied_pairs(points)
    for a, b in pairs:
        label[label == label[b]] = label[a]
    return np.unique(label, return_inverse=True)[1].astype(np.int64)


def _alike_pairs(station_m: Floats, offset_m: Floats, crossing_s: Floats) -> Iterator[tuple[int, int]]:
    """Yield the pairs of rows that agree; a sketch of 64 stations first leaves out those that cannot."""
    if len(offset_m) < 2 or len(station_m) < 2:
        return
    step = float(station_m[-1] - station_m[0]) / (len(station_m) - 1)
    known = np.isfinite(offset_m)
    for a in range(len(offset_m) - 1):
        for b in (a + 1 + np.flatnonzero(_sketch_agrees(offset_m, a))).tolist():
            common = known[a] & known[b]
            least = max(LEAST_COMMON_M / step, LEAST_SAME_SHARE * min(known[a].sum(), known[b].sum()))
            if common.sum() >= least and _agree(offset_m[[a, b]][:, common], crossing_s[[a, b]][:, common]):
                yield a, b


def _sketch_agrees(offset_m: Floats, a: int) -> Bools:
    """Return which later rows lie within 1 m of row ``a`` at most of 64 stations, shape (T - a - 1,)."""
    there = np.flatnonzero(np.isfinite(offset_m[a]))
    if len(there) == 0:
        return np.zeros(len(offset_m) - a - 1, dtype=bool)
    sketch = there[np.linspace(0, len(there) - 1, min(_SKETCH, len(there))).astype(int)]
    apart = np.abs(offset_m[a + 1 :, sketch] - offset_m[a, sketch])
    known = np.isfinite(apart)
    close = (np.where(known, apart, np.inf) < _SKETCH_M).sum(axis=1)
    return np.asarray((known.sum(axis=1) > 0) & (close >= 0.75 * known.sum(axis=1)))


def _agree(two_m: Floats, two_s: Floats) -> bool:
    apart = np.abs(two_m[0] - two_m[1])
    if np.median(apart) >= MEDIAN_M or np.quantile(apart, 0.9) >= P90_M:
        return False
    late = two_s[0] - two_s[1]
    late = late[np.isfinite(late)]
    return len(late) == 0 or bool(np.quantile(np.abs(late - np.median(late)), 0.75) < CLOCK_WANDER_S)


def doubles_of(members: dict[int, Witness], line: Line, found: Crossings) -> dict[int, Reason]:
    """Return which members are copies of another recording, and of which: the most telling one.

    Parameters
    ----------
    members : dict of int to Witness
        The traces of a route, by their number among all.
    line : Line
        Its centreline.
    found : Crossings
        Where and when each trace crosses it, in the order of the members.

    Returns
    -------
    dict of int to Reason
        By number; who is not in it is no copy.
    """
    points = [np.column_stack([w.trace.lon_deg, w.trace.lat_deg]) for w in members.values()]
    label = same_recording(line.station_m, found.offset_m, found.time_s, points)
    first: dict[int, str] = {}
    doubles = {}
    labelled = zip(members.items(), label.tolist(), strict=True)
    for (i, witness), number in sorted(labelled, key=lambda entry: _telling(entry[0][1]), reverse=True):
        if number in first:
            doubles[i] = Reason.of("same_recording", of=first[number])
        first.setdefault(number, witness.trace.file)
    return doubles


def _telling(witness: Witness) -> tuple[bool, int, bool, bool]:
    """Return what makes one of several copies the witness: the table of rides, points, receiver, start."""
    listed = "sheet" in (witness.receiver_from, witness.ride_from) or witness.start_source == "declared"
    return listed, len(witness.trace.lon_deg), witness.receiver_from != "none", np.isfinite(witness.start_s)


# --- copies by their points --------------------------------------------------------------------------


def rounding_m(points_deg: Floats) -> float:
    """Return the largest error that rounding to so many decimals may have brought, metres.

    Half the diagonal of a mesh of 10^-k degrees, with the fewest decimals k that all coordinates have.

    Parameters
    ----------
    points_deg : ndarray, shape (P, 2)
        Logged longitude and latitude, degrees.

    Returns
    -------
    float
        Metres, 0 beyond seven decimals.

    Examples
    --------
    >>> round(rounding_m(np.array([[-87.3, 75.0], [-87.3001, 75.0002]])), 2)
    7.86
    """
    for decimals in range(8):
        if len(points_deg) and np.all(np.abs(points_deg - np.round(points_deg, decimals)) < 1e-9):
            return float(np.radians(10.0**-decimals) * EARTH_RADIUS_M * np.sqrt(0.5))
    return 0.0


def _copy(a: Floats, b: Floats, reach_m: float) -> bool:
    """Return whether the points of one recording, shape (P, 3), are points of the other, (Q, 3).

    95 % of the points of the sparser one must lie within ``reach_m`` (0.1 m, and what rounding may have
    brought) of a point of the other. Two receivers do not log the same points even where they err alike, as
    long as the points of the denser one lie well apart; where they do not, the answer is no.
    """
    sparse, dense = (a, b) if len(a) <= len(b) else (b, a)
    if len(sparse) < LEAST_SHARED_POINTS or _spacing_m(dense) < 4.0 * reach_m:
        return False
    distance, _ = cKDTree(dense).query(sparse, distance_upper_bound=reach_m)
    return bool(np.mean(np.isfinite(distance)) >= POINT_SHARE)


def _spacing_m(points: Floats) -> float:
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    moving = step[step > 0.5]
    return float(np.median(moving)) if len(moving) else 0.0


def _copied_pairs(points_deg: Sequence[Floats]) -> list[tuple[int, int]]:
    """Return the pairs of recordings that share their points; a few probes of each find who may."""
    places = [places_m(*p.T) for p in points_deg]
    rounding = [rounding_m(p) for p in points_deg]
    if not sum(map(len, places)):
        return []
    owner = np.repeat(np.arange(len(places)), [len(p) for p in places])
    tree = cKDTree(np.concatenate(places))
    found = []
    for a, own in enumerate(places):
        if len(own) < LEAST_SHARED_POINTS:
            continue
        probes = own[np.linspace(0, len(own) - 1, _PROBES).astype(int)]
        near = tree.query_ball_point(probes, POINT_TOLERANCE_M + min(max(rounding), COARSEST_M))
        votes = np.bincount([t for hit in near for t in set(owner[hit].tolist())], minlength=len(places))
        for b in np.flatnonzero(votes >= 0.75 * _PROBES).tolist():
            denser = len(places[b]) > len(own) or (len(places[b]) == len(own) and b > a)
            if denser and _copy(own, places[b], POINT_TOLERANCE_M + max(rounding[a], rounding[b])):
                found.append((min(a, b), max(a, b)))
    return found
