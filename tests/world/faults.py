"""Faults with known truth: what, on which ride, of which receiver, from where to where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from world.routes import Route

Floats = NDArray[np.float64]
START_M = 300.0
"""No random fault begins before: one within the first half minute could not be told from settling."""

Kind = Literal["stretch", "detour", "gap", "torn", "late", "settling"]


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One fault.

    ``stretch``: the receiver, not the rider, leaves by ``offset_m`` (positive to the right).
    ``detour``: the rider leaves by ``offset_m``; all receivers of the ride show it.
    ``gap``: nothing is logged. ``torn``: the error grows by a process of sd ``offset_m`` and 15 s.
    ``late``: the first fix comes after ``seconds``. ``settling``: the first fixes are off by up to
    ``offset_m`` and get right over ``seconds``.

    ``from_m`` and ``to_m`` are where the offset has reached half its height. ``ride`` counts from 0,
    -1 means every ride; ``receiver`` "" means every receiver.
    """

    kind: Kind
    ride: int = -1
    receiver: str = ""
    from_m: float = 0.0
    to_m: float = 0.0
    offset_m: float = 0.0
    ramp_m: float = 25.0
    seconds: float = 0.0

    def hits(self, ride: int, receiver: str) -> bool:
        return self.ride in (-1, ride) and self.receiver in ("", receiver)

    def profile(self, station_m: Floats) -> Floats:
        """Return the share (…) of the full offset at stations: cosine ramps, half way at the ends."""
        rise = np.clip((station_m - self.from_m) / self.ramp_m + 0.5, 0, 1)
        fall = np.clip((self.to_m - station_m) / self.ramp_m + 0.5, 0, 1)
        return (0.5 - 0.5 * np.cos(np.pi * rise)) * (0.5 - 0.5 * np.cos(np.pi * fall))


def draw_faults(
    rng: np.random.Generator,
    route: Route,
    kind: Kind,
    count: int,
    rides: int,
    receivers: Sequence[str],
    taken: Sequence[Fault],
    at_once: int = 1,
) -> list[Fault]:
    """Return ``count`` random faults; no more than ``at_once`` rides are at fault at any one station."""
    drawn: list[Fault] = []
    for _ in range(count):
        for _attempt in range(400):
            fault = _draw(rng, kind, rides, receivers)
            start = rng.uniform(START_M, max(START_M + 1, route.length_m - 150 - (fault.to_m - fault.from_m)))
            fault = _moved(fault, start)
            if _fits(route, fault, [*taken, *drawn], at_once):
                drawn.append(fault)
                break
        else:
            raise ValueError(f"no room for {count} faults of kind {kind} on {route.length_m:.0f} m")
    return drawn


def _draw(rng: np.random.Generator, kind: Kind, rides: int, receivers: Sequence[str]) -> Fault:
    ride, side = int(rng.integers(rides)), float(rng.choice([-1, 1]))
    if kind == "detour":
        return Fault(kind=kind, ride=ride, to_m=rng.uniform(120, 260), offset_m=side * rng.uniform(20, 45))
    receiver = str(rng.choice(list(receivers)))
    if kind == "gap":
        return Fault(kind=kind, ride=ride, receiver=receiver, to_m=rng.uniform(100, 250), ramp_m=1.0)
    ramp = rng.uniform(15, 40)
    return Fault(
        kind=kind, ride=ride, receiver=receiver, to_m=rng.uniform(100, 300) + ramp,
        offset_m=side * rng.uniform(14, 30), ramp_m=ramp,
    )  # fmt: skip


def _moved(fault: Fault, start_m: float) -> Fault:
    values = {name: getattr(fault, name) for name in fault.__dataclass_fields__}
    return Fault(**{**values, "from_m": start_m, "to_m": start_m + fault.to_m})


def _fits(route: Route, fault: Fault, others: Sequence[Fault], at_once: int) -> bool:
    if fault.to_m > route.length_m - 150:
        return False
    near = [
        o for o in others if o.to_m > o.from_m and o.from_m - 80 < fault.to_m and fault.from_m < o.to_m + 80
    ]
    if any(o.ride in (-1, fault.ride) for o in near) or len({o.ride for o in near}) >= at_once:
        return False
    if fault.kind != "detour":
        return True
    ends = route.at(np.array([fault.from_m, fault.to_m]))
    chord = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    lead = np.array([fault.from_m - 12, fault.from_m, fault.to_m, fault.to_m + 12])
    if (route.direction(lead) @ chord).min() < 0.8:
        return False
    aside = np.linspace(*(ends + fault.offset_m * np.array([chord[1], -chord[0]])), 25)
    line = route.at(np.arange(fault.from_m - 60, fault.to_m + 60, 2.0))
    return bool(np.linalg.norm(aside[:, None] - line[None], axis=2).min() > 14)
