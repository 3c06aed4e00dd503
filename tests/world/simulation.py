"""``simulate``: a route ridden several times with several receivers, and all that is true of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from world.faults import Fault, draw_faults
from world.globe import Globe
from world.noise import ornstein_uhlenbeck
from world.receivers import Receiver, errors_of_ride
from world.rider import Trip, ride
from world.routes import SHAPES, Route

Floats = NDArray[np.float64]

FIRST_START_S = 1_930_287_600.0  # 2031-03-03T07:00:00Z


@dataclass(frozen=True, kw_only=True, eq=False)
class Recording:
    """What one receiver logged on one ride, shape (P,), and what is true of it.

    ``true_station_m`` and ``true_offset_m`` (positive to the right) are the place of each logged point
    relative to the true centreline; ``true_time_s`` is free of the clock offset.
    """

    file: str
    receiver: Receiver
    ride: int
    start_s: float
    start_known: bool
    time_s: Floats
    lon_deg: Floats
    lat_deg: Floats
    true_time_s: Floats
    true_station_m: Floats
    true_offset_m: Floats
    faults: tuple[Fault, ...]

    @property
    def first_fix_s(self) -> float:
        """Seconds from the start to the first logged point, as an exact clock would tell."""
        return float(self.true_time_s[0] - self.start_s)

    def settled_s(self, band_m: float, hold_s: float) -> float:
        """Seconds from the start until the true offset keeps to ``band_m`` for ``hold_s``; NaN = never."""
        after = self.true_time_s - self.start_s
        outside = np.abs(self.true_offset_m) > band_m
        next_exit = np.where(outside, after, np.inf)
        next_exit = np.minimum.accumulate(next_exit[::-1])[::-1]
        good = (next_exit - after >= hold_s) & (after[-1] - after >= hold_s)
        return float(after[np.argmax(good)]) if good.any() else float("nan")


@dataclass(frozen=True, kw_only=True, eq=False)
class World:
    """One simulated route with its recordings and its truth."""

    name: str
    route: Route
    globe: Globe
    recordings: tuple[Recording, ...]
    faults: tuple[Fault, ...]
    lights_m: tuple[float, ...]
    line_sd_m: float

    def spread_m(self, receiver: Receiver) -> float:
        """Standard deviation of the offset, as drawn: receiver and rider's line together."""
        return float(np.hypot(receiver.sigma_m, self.line_sd_m))

    def centreline(self) -> tuple[Floats, Floats, Floats]:
        """Return station, longitude and latitude (S,) of the true line."""
        lon, lat = self.globe.to_lonlat(self.route.east_m, self.route.north_m)
        return self.route.station_m, lon, lat

    def write_gpx(self, folder: Path | str) -> list[Path]:
        """Write one GPX file a recording and rides.csv; return the GPX files."""
        from world.files import write_gpx

        return write_gpx(self.recordings, Path(folder))


def simulate(
    shape: str | Route = "winding",
    *,
    seed: int,
    rides: int = 4,
    length_m: float = 3000.0,
    receivers: Sequence[Receiver] = (Receiver(),),
    line_sd_m: float = 0.6,
    common_share: float = 0.0,
    stretches: int = 0,
    detours: int = 0,
    gaps: int = 0,
    faults: Sequence[Fault] = (),
    at_once: int = 1,
    fix_s: tuple[float, float] = (1.0, 6.0),
    start_known: bool | Sequence[bool] = True,
    lights: int | Sequence[float] = 2,
    wait_s: tuple[float, float] = (15.0, 75.0),
    globe: Globe = Globe(lon_deg=-84.0, lat_deg=75.2),  # noqa: B008 - frozen
    sharp: bool = False,
    first_start_s: float = FIRST_START_S,
    file_names: str = "{receiver}_{ride:02d}.gpx",
) -> World:
    """Ride one route ``rides`` times with all ``receivers`` and return what was logged and what is true.

    Parameters
    ----------
    shape : str or Route
        A name of `SHAPES`, or a line of one's own.
    line_sd_m : float
        Standard deviation of the rider's own line, common to all receivers of a ride.
    common_share : float
        Share of the correlated variance of the receivers' errors that those of one ride have in common.
    stretches, detours, gaps : int
        How many random faults of each kind, beside the given ``faults``.
    at_once : int
        No more than so many rides are at fault at one station.
    fix_s : (float, float)
        Range of the first fix, whole seconds after the start.
    lights : int or sequence of float
        How many red lights, or their stations; six rides in ten wait there for ``wait_s`` seconds.
    """
    rng = np.random.default_rng(seed)
    route = SHAPES[shape](rng, length_m, sharp) if isinstance(shape, str) else shape
    names = [receiver.name for receiver in receivers]
    every = list(faults)
    for kind, count in (("detour", detours), ("stretch", stretches), ("gap", gaps)):
        every += draw_faults(rng, route, kind, count, rides, names, every, at_once)
    drawn = rng.uniform(100, route.length_m - 100, lights) if isinstance(lights, int) else np.array(lights)
    stations = tuple(float(s) for s in np.sort(drawn))
    known = [start_known] * rides if isinstance(start_known, bool) else list(start_known)
    recordings, trips = [], []
    for number in range(rides):
        start_s = first_start_s + 86_400.0 * number + float(rng.integers(0, 1800))
        ways = [fault for fault in every if fault.kind == "detour" and fault.hits(number, "")]
        trip = ride(rng, route, ways, line_sd_m, stations, wait_s)
        trips.append(trip)
        draft = _Draft(
            rng=rng, route=route, globe=globe, trip=trip, number=number, start_s=start_s, known=known[number],
            faults=every, file_names=file_names,
        )  # fmt: skip
        recordings += draft.recordings(receivers, common_share, fix_s)
    return World(
        name=shape if isinstance(shape, str) else "own line", route=route, globe=globe,
        recordings=tuple(recordings), faults=tuple(_as_ridden(fault, route, trips) for fault in every),
        lights_m=stations, line_sd_m=line_sd_m,
    )  # fmt: skip


def _as_ridden(fault: Fault, route: Route, trips: Sequence[Trip]) -> Fault:
    """Set the ends of a detour where the way ridden is half the offset, at most 7 m, away from the line."""
    if fault.kind != "detour":
        return fault
    trip = trips[max(fault.ride, 0)]
    near = np.abs(trip.station_m - (fault.from_m + fault.to_m) / 2) < (fault.to_m - fault.from_m) / 2 + 60
    line = np.abs(route.station_m - (fault.from_m + fault.to_m) / 2) < (fault.to_m - fault.from_m) / 2 + 120
    points = route.at(route.station_m[line])
    apart = np.linalg.norm(trip.points_m[near][:, None] - points[None], axis=2)
    away = np.flatnonzero(apart.min(axis=1) > min(7.0, abs(fault.offset_m) / 2))
    stations = route.station_m[line][apart.argmin(axis=1)]
    return replace(fault, from_m=float(stations[away[0]]), to_m=float(stations[away[-1]]))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Draft:
    """One ride while it is being recorded."""

    rng: np.random.Generator
    route: Route
    globe: Globe
    trip: Trip
    number: int
    start_s: float
    known: bool
    faults: Sequence[Fault]
    file_names: str

    def recordings(
        self, receivers: Sequence[Receiver], common_share: float, fix_s: tuple[float, float]
    ) -> list[Recording]:
        times = []
        for receiver in receivers:
            late = [f.seconds for f in self._of("late", receiver)]
            first = late[0] if late else float(self.rng.integers(int(fix_s[0]), int(fix_s[1]) + 1))
            times.append(receiver.sample_times(self.rng, first, self.trip.time_s[-1]))
        errors = errors_of_ride(self.rng, receivers, times, common_share)
        return [self._record(r, t, e) for r, t, e in zip(receivers, times, errors, strict=True)]

    def _of(self, kind: str, receiver: Receiver) -> list[Fault]:
        return [f for f in self.faults if f.kind == kind and f.hits(self.number, receiver.name)]

    def _record(self, receiver: Receiver, after_s: Floats, error_m: Floats) -> Recording:
        point, station = self.trip.at(after_s)
        right = self.route.right(station)
        for fault in self._of("stretch", receiver):
            error_m = error_m + (fault.offset_m * fault.profile(station))[:, None] * right
        for fault in self._of("torn", receiver):
            rough = ornstein_uhlenbeck(self.rng, after_s, 15.0)
            error_m = error_m + (fault.offset_m * fault.profile(station))[:, None] * rough
        for fault in self._of("settling", receiver):
            left = np.clip(1 - (after_s - after_s[0]) / fault.seconds, 0, 1) ** 2
            error_m = error_m + (fault.offset_m * left)[:, None] * right[0]
        keep = np.ones(len(after_s), bool)
        for fault in self._of("gap", receiver):
            keep &= (station < fault.from_m) | (station > fault.to_m)
        logged, station, after_s = (point + error_m)[keep], station[keep], after_s[keep]
        lon, lat = self.globe.to_lonlat(logged[:, 0], logged[:, 1])
        return Recording(
            file=self.file_names.format(receiver=receiver.name, ride=self.number + 1),
            receiver=receiver, ride=self.number, start_s=self.start_s, start_known=self.known,
            time_s=self.start_s + after_s + receiver.clock_offset_s, lon_deg=lon, lat_deg=lat,
            true_time_s=self.start_s + after_s, true_station_m=station,
            true_offset_m=((logged - self.route.at(station)) * self.route.right(station)).sum(axis=1),
            faults=tuple(f for f in self.faults if f.hits(self.number, receiver.name)),
        )  # fmt: skip
