"""What a watch logs in a rest of ten minutes or more is no way; who walks or goes round on small ground moves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trackspread.model import Trace, Witness
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.rides.rests import RESTED, rests_s, without_rests
from world import simulate
from world.witnesses import as_witnesses

M_PER_DEG = 111_195.0


def wander(n: int, step_s: float, sd_m: float, rng: np.random.Generator) -> np.ndarray:
    """Return a Gauss-Markov process of 300 s east and north, (N, 2), that begins at 0."""
    keep = np.exp(-step_s / 300.0)
    push = rng.normal(0.0, sd_m * np.sqrt(1.0 - keep**2), (n, 2))
    out = np.zeros((n, 2))
    for k in range(1, n):
        out[k] = keep * out[k - 1] + push[k]
    return out


def resting(one: Witness, share: float, hours: float, sd_m: float = 15.0, seed: int = 6) -> Witness:
    """Return a recording that goes on for hours in one place, a point every 5 s."""
    t = one.trace
    at, n = max(1, round(share * (len(t.time_s) - 1))), round(720 * hours)
    east, north = wander(n, 5.0, sd_m, np.random.default_rng(seed)).T / M_PER_DEG
    rest = {
        "time_s": t.time_s[at] + 5.0 * np.arange(n),
        "lon_deg": t.lon_deg[at] + east / np.cos(np.radians(t.lat_deg[at])),
        "lat_deg": t.lat_deg[at] + north,
        "elevation_m": np.full(n, np.nan),
        "break_before": np.zeros(n, bool),
    }
    after = {name: getattr(t, name)[at:] + (5.0 * n if name == "time_s" else 0) for name in rest}
    parts = {name: np.concatenate([getattr(t, name)[:at], rest[name], after[name]]) for name in rest}
    return replace(one, trace=replace(t, **{**parts, "break_before": parts["break_before"].astype(bool)}))


@pytest.mark.parametrize("hours", [1.0, 5.0])
@pytest.mark.parametrize("share", [0.0, 0.5, 1.0], ids=["started indoors", "at a café", "never stopped"])
def test_a_ride_with_a_long_rest_counts_like_the_others(share: float, hours: float) -> None:
    """It was set aside: of its way, wander and all, too little was that of the others."""
    rides = as_witnesses(simulate("winding", seed=3, rides=4, length_m=2000, lights=0))
    plain = analyse(rides, Options()).routes[0]
    found = analyse([rides[0], resting(rides[1], share, hours), *rides[2:]], Options())
    (route,) = found.routes
    rested = route.traces[1]
    assert route.length_m == pytest.approx(plain.length_m, rel=0.01)
    assert rested.coverage > 0.98
    assert rested.settled_fix.value_s == pytest.approx(plain.traces[1].settled_fix.value_s, abs=5.0)
    assert [(f.code, f.count > 400 * hours) for f in found.inputs[1].findings] == [(RESTED, True)]


def test_where_all_rest_the_line_does_not_wander() -> None:
    rides = as_witnesses(simulate("winding", seed=3, rides=4, length_m=2000, lights=0))
    rested = [resting(one, 0.5, 2.0, 8.0 + 4.0 * k, seed=k) for k, one in enumerate(rides)]
    plain, found = (analyse(every, Options()).routes[0] for every in (rides, rested))
    assert found.length_m == pytest.approx(plain.length_m, rel=0.01)


def walked(corners: np.ndarray, speed_m_s: float, step_s: float, errors: bool = True) -> Trace:
    """Return an hour of walking to and fro along corners, (C, 2)."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    n = round(3600.0 / step_s)
    turned = np.arange(n) * speed_m_s * step_s % (2 * along[-1])
    at = np.minimum(turned, 2 * along[-1] - turned)
    east, north = np.interp(at, along, corners[:, 0]), np.interp(at, along, corners[:, 1])
    place = np.stack([east, north]) + errors * wander(n, step_s, 4.0, np.random.default_rng(2)).T
    lon, lat = place / M_PER_DEG
    return Trace(
        file="a.gpx", format="GPX 1.1", time_s=1.9e9 + step_s * np.arange(n), lon_deg=lon - 84.0, lat_deg=lat,
        elevation_m=np.full(n, np.nan), break_before=np.zeros(n, bool),
    )  # fmt: skip


@pytest.mark.parametrize("step_s", [1.0, 30.0])
@pytest.mark.parametrize("speed_m_s", [0.8, 1.3, 3.0])
def test_who_moves_on_small_ground_does_not_rest(speed_m_s: float, step_s: float) -> None:
    legs = np.array([[(0, 10 * k), (120, 10 * k)][:: 1 if k % 2 == 0 else -1] for k in range(8)]).reshape(
        -1, 2
    )
    turn = np.linspace(0.0, 40.0 * np.pi, 4000)
    track = 200.0 / (2.0 * np.pi) * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    for way in (legs.astype(float), track):
        assert len(rests_s(walked(way, speed_m_s, step_s))) == 0


def test_a_recording_without_rests_or_times_is_the_same() -> None:
    one = as_witnesses(simulate("winding", seed=3, rides=1, length_m=2000))[0]
    timeless = replace(one, trace=replace(one.trace, time_s=np.full(len(one.trace.time_s), np.nan)))
    out = without_rests([one, timeless])
    assert [a.trace is b.trace for a, b in zip(out, (one, timeless), strict=True)] == [True, True]
