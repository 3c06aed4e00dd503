"""What each ride gave of each receiver, over all routes: the table behind the comparison."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trackspread.model import Estimate, Floats, Reason, RouteResult, TraceResult
from trackspread.noise.effective import centred, lengths_of
from trackspread.noise.tails import Sample, sd_told
from trackspread.statistics.astray.events import is_elsewhere
from trackspread.statistics.first_fix import approached_to_m

LEAST_STATIONS = 20
"""A ride with fewer says nothing of its spread."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Ridden:
    """One route: rows of its traces by receiver and ride, and what counts as their errors, (T, S).

    ``offset_m`` are offsets, ``deviation_m`` deviations from the consensus of the other rides.
    """

    route: RouteResult
    rows: dict[str, dict[str, list[int]]]
    offset_m: Floats
    deviation_m: Floats

    def rides(self, receiver: str) -> list[str]:
        """Return the rides of a receiver, in order of their traces."""
        return list(self.rows.get(receiver, {}))

    def stack(self, values: Floats, receiver: str, rides: Sequence[str]) -> Floats:
        """Return values of a receiver by ride, (R, S); parts of one recording complete each other."""
        out = np.full((len(rides), values.shape[1]), np.nan)
        for place, ride in enumerate(rides):
            for row in self.rows.get(receiver, {}).get(ride, []):
                out[place] = np.where(np.isnan(out[place]), values[row], out[place])
        return out

    def others(self) -> int:
        """Return the rides from whose consensus each one deviates."""
        return max(len({ride for own in self.rows.values() for ride in own}) - 1, 1)

    def lengths(self) -> float:
        """Return the independent lengths in one ride: that of the route / correlation length."""
        route = self.route
        return lengths_of(route.length_m, route.correlation_length_m, route.station_step_m)


def name_of_ride(trace: TraceResult) -> str:
    """Return the ride of a trace; without one it is a ride of its own, which none shares.

    Parameters
    ----------
    trace : TraceResult
        Of any route.

    Returns
    -------
    str
    """
    return trace.ride or f"#{trace.file}:{trace.part}"


def is_shared(ride: str) -> bool:
    """Return whether a ride has a name, so that two receivers may share it.

    Parameters
    ----------
    ride : str
        See `name_of_ride`.

    Returns
    -------
    bool

    Examples
    --------
    >>> is_shared("3"), is_shared("#moss.gpx:0")
    (True, False)
    """
    return not ride.startswith("#")


def ridden(routes: Sequence[RouteResult]) -> list[Ridden]:
    """Return the table of every route.

    Where the rider took another way (`is_elsewhere`, a variant, or an approach) no receiver erred. All else
    counts, stretches and settling included.

    Parameters
    ----------
    routes : sequence of RouteResult
        All of one analysis.

    Returns
    -------
    list of Ridden
        In the same order.
    """
    out = []
    for route in routes:
        elsewhere = np.zeros(route.offset_m.shape, dtype=bool)
        rows: dict[str, dict[str, list[int]]] = {}
        for trace in route.traces:
            rows.setdefault(trace.receiver, {}).setdefault(name_of_ride(trace), []).append(trace.number)
            elsewhere[trace.number] |= route.station_m < approached_to_m(trace.first_fix)
            for variant in route.variants:
                if trace.file in variant.files:
                    elsewhere[trace.number] |= _between(route, variant.from_m, variant.to_m)
        for stretch in route.stretches:
            if is_elsewhere(stretch.cause, stretch.peak_m):
                elsewhere[stretch.number] |= _between(route, stretch.from_m, stretch.to_m)
        offset, deviation = (np.where(elsewhere, np.nan, x) for x in (route.offset_m, route.deviation_m))
        out.append(Ridden(route=route, rows=rows, offset_m=offset, deviation_m=deviation))
    return out


def _between(route: RouteResult, from_m: float, to_m: float) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    return np.asarray((route.station_m >= from_m) & (route.station_m <= to_m))


def spread_of(tables: Sequence[Ridden], receiver: str, confidence: float) -> Estimate:
    """Return the spread of all errors of a receiver over all its routes.

    On one route it is that which the route tells of the receiver. Over several it is the root of the mean
    variance, each route weighing (rides - 1) times its length, with the interval of all rides together
    (`sd_told`).

    Parameters
    ----------
    tables : sequence of Ridden
        All routes.
    receiver : str
        Its name.
    confidence : float
        Of the interval, 0 to 1.

    Returns
    -------
    Estimate
        Metres; NaN with the reason ``one_ride_on_route`` where no route was ridden twice.
    """
    told = [(table, spread) for table in tables if np.isfinite((spread := _on_route(table, receiver)).value)]
    if len(told) < 2:
        return told[0][1] if told else Estimate(reason=Reason("one_ride_on_route"))
    weight = np.array([(len(table.rides(receiver)) - 1) * table.route.length_m for table, _ in told])
    value = float(np.sqrt(weight @ np.array([spread.value**2 for _, spread in told]) / weight.sum()))
    return sd_told(value, [_sample(table, receiver) for table, _ in told], confidence, True)


def _on_route(table: Ridden, receiver: str) -> Estimate:
    """Return what a route tells of the spread of all errors of a receiver."""
    return next((one.spread_all for one in table.route.receivers if one.receiver == receiver), Estimate())


def _sample(table: Ridden, receiver: str) -> Sample:
    """Return the errors of a receiver on a route about its own mean line."""
    errors, _ = centred(table.stack(table.offset_m, receiver, table.rides(receiver)))
    errors = errors[np.isfinite(errors).any(axis=1)]
    rides = len(errors)
    return Sample(
        error_m=errors, ride=np.arange(rides), lengths=np.array([table.lengths()]), own=1.0 - 1.0 / rides,
        step_m=table.route.station_step_m,
    )  # fmt: skip


def away_squares(table: Ridden, receiver: str, rides: Sequence[str]) -> Floats:
    """Return the mean square deviation from the other rides, ride by ride.

    With m other rides on the route, the chance error of their mean, one m-th, is taken off.

    Parameters
    ----------
    table : Ridden
        One route.
    receiver : str
        Its name.
    rides : sequence of str, length R
        Rides of the receiver.

    Returns
    -------
    ndarray, shape (R,)
        Square metres, NaN with fewer than `LEAST_STATIONS` stations.
    """
    values = table.stack(table.deviation_m, receiver, rides)
    count = np.isfinite(values).sum(axis=1)
    mean = np.nansum(values**2, axis=1) / np.maximum(count, 1) / (1.0 + 1.0 / table.others())
    return np.asarray(np.where(count >= LEAST_STATIONS, mean, np.nan))
