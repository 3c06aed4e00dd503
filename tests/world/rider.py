"""The rider: where they really went, and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from world.faults import Fault
from world.noise import smooth
from world.routes import Route, rounded, route_along

Floats = NDArray[np.float64]

SPEED_MS = 5.5
LATERAL_ACCELERATION_MS2 = 2.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Trip:
    """One trip: ``points_m`` (U, 2) ridden, their ``station_m`` (U,) and ``time_s`` (U,) after the start."""

    points_m: Floats
    station_m: Floats
    time_s: Floats

    def at(self, time_s: Floats) -> tuple[Floats, Floats]:
        """Return points (P, 2) and stations (P,) at instants."""
        point = np.stack([np.interp(time_s, self.time_s, self.points_m[:, k]) for k in (0, 1)], axis=1)
        return point, np.interp(time_s, self.time_s, self.station_m)

    def time_at(self, station_m: float) -> float:
        """Return when a station is reached, seconds after the start."""
        return float(np.interp(station_m, self.station_m, self.time_s))


def ride(
    rng: np.random.Generator,
    route: Route,
    detours: Sequence[Fault],
    line_sd_m: float,
    lights_m: Sequence[float],
    wait_s: tuple[float, float],
) -> Trip:
    """Ride the route once: own line, own pace, red lights, and any detours."""
    path, station = route, route.station_m
    for detour in sorted(detours, key=lambda fault: -fault.from_m):
        path, station = _around(route, path, station, detour)
    count = len(path.station_m)
    wander = line_sd_m * smooth(rng, count, 60.0)
    points = path.at(path.station_m) + wander[:, None] * path.right(path.station_m)
    speed = SPEED_MS * np.exp(0.12 * smooth(rng, count, 60.0))
    speed = np.minimum(speed, np.sqrt(LATERAL_ACCELERATION_MS2 / np.maximum(path.bend(), 1e-6)))
    speed = np.convolve(np.pad(speed, 7, mode="edge"), np.full(15, 1 / 15), mode="valid")
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    time = np.concatenate([[0.0], np.cumsum(step / ((speed[1:] + speed[:-1]) / 2))])
    for light in lights_m:
        wait = rng.uniform(*wait_s) if rng.random() < 0.6 else 0.0
        place = int(np.searchsorted(station, light))
        points, station, time = (np.insert(a, place, a[place], axis=0) for a in (points, station, time))
        time[place + 1 :] += wait
    return Trip(points_m=points, station_m=station, time_s=time)


def _around(route: Route, path: Route, station: Floats, detour: Fault) -> tuple[Route, Floats]:
    """Replace the path between two stations by three sides of a rectangle."""
    ends = route.at(np.array([detour.from_m, detour.to_m]))
    aside = detour.offset_m * _right_of(ends[1] - ends[0])
    lead = route.at(np.array([detour.from_m - 12, detour.to_m + 12]))
    corners = np.array([lead[0], ends[0], ends[0] + aside, ends[1] + aside, ends[1], lead[1]])
    way = rounded(corners, 6.0)
    before, after = station < detour.from_m - 12, station > detour.to_m + 12
    old = path.at(path.station_m)
    points = np.concatenate([old[before], way.at(way.station_m), old[after]])
    share = way.station_m / way.length_m
    spread = detour.from_m - 12 + share * (detour.to_m - detour.from_m + 24)
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    new = route_along(points)
    return new, np.interp(new.station_m, along, np.concatenate([station[before], spread, station[after]]))


def _right_of(vector: Floats) -> Floats:
    return np.array([vector[1], -vector[0]]) / np.linalg.norm(vector)
