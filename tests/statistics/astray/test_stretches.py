"""Stretches: faults with edges are found with their ends; slow wander, bends and restless places are not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from polylines import gauss_markov
from trackspread.options import Options
from trackspread.statistics.astray import stretches as module
from trackspread.statistics.astray.stretches import (
    Run,
    as_mask,
    find_runs,
    mirrored,
)

STEP_M = 5.0
SIZE = 800
OPTIONS = Options()
LENGTH_M = 1500.0


def wander(
    seed: int, traces: int = 5, size: int = SIZE, sd: float = 1.0, length_m: float = LENGTH_M
) -> np.ndarray:
    """Return deviations of unit scale that wander slowly, with a little white noise."""
    rng = np.random.default_rng(seed)
    slow = gauss_markov(rng, traces, size, STEP_M, length_m)
    return sd * (np.sqrt(0.98) * slow + np.sqrt(0.02) * rng.standard_normal(slow.shape))


def ramped(from_m: float, to_m: float, height: float, ramp_m: float = 20.0) -> np.ndarray:
    """Return a fault with half its height at both ends, shape (SIZE,)."""
    at = STEP_M * np.arange(SIZE)
    rise = np.clip((at - from_m) / ramp_m + 0.5, 0, 1)
    fall = np.clip((to_m - at) / ramp_m + 0.5, 0, 1)
    return height * rise * fall


def found(deviation: np.ndarray, options: Options = OPTIONS, scale: np.ndarray | None = None) -> list[Run]:
    scale = np.ones(deviation.shape) if scale is None else scale
    return find_runs(deviation, scale, STEP_M, options)


# --- a fault -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("height", [7.0, -9.0, 14.0])
@pytest.mark.parametrize(("from_m", "to_m"), [(1000.0, 1200.0), (600.0, 900.0), (2500.0, 2620.0)])
def test_a_fault_is_found_with_its_ends_and_its_side(height: float, from_m: float, to_m: float) -> None:
    for seed in range(5):
        deviation = wander(seed, sd=0.7)
        deviation[2] += ramped(from_m, to_m, height)
        runs = [run for run in found(deviation) if run.trace == 2]
        near = [run for run in runs if run.first * STEP_M < to_m and run.last * STEP_M > from_m]
        assert len(near) == 1
        assert near[0].first * STEP_M == pytest.approx(from_m, abs=25.0)
        assert near[0].last * STEP_M == pytest.approx(to_m, abs=25.0)
        assert near[0].side == np.sign(height)
        assert near[0].cause == "unknown"


def test_two_faults_of_one_trace_and_one_of_another_stay_apart() -> None:
    deviation = wander(1, sd=0.5)
    deviation[0] += ramped(500, 700, 10) + ramped(1500, 1700, -10)
    deviation[3] += ramped(1550, 1800, 8)
    runs = found(deviation)
    assert [(run.trace, run.side) for run in runs] == [(0, 1), (0, -1), (3, 1)]
    assert [run.first * STEP_M for run in runs] == pytest.approx([500, 1500, 1550], abs=25)


def test_a_fault_is_judged_by_the_scale_of_its_place() -> None:
    deviation = wander(2, sd=0.5)
    deviation[1] += ramped(1000, 1200, 10.0)
    scale = np.ones(deviation.shape)
    scale[:, 150:300] = 6.0
    assert [run.trace for run in found(deviation)] == [1]
    assert found(deviation, scale=scale) == []


@pytest.mark.parametrize("side", [-1, 1])
def test_a_fault_is_judged_by_how_far_the_trace_leaves_its_own_level(side: int) -> None:
    """A trace lies 1 scale to the left all along, and steps 3.6 scales to the right or to the left."""
    deviation = wander(3, sd=0.25)
    deviation[1] += side * ramped(1000, 1250, 3.6, 15.0) - 1.0
    assert [(run.trace, run.side) for run in found(deviation)] == [(1, side)]


def test_a_small_step_is_believed_for_its_edges() -> None:
    """3.6 scales high: errors that change within 1500 m have no such edges, those that change within 60 m have."""
    deviation = wander(3, sd=0.25)
    deviation[1] += ramped(1000, 1250, 3.6, 15.0)
    assert [run.trace for run in found(deviation)] == [1]
    short_lived = wander(3, length_m=60.0)
    short_lived[1] += ramped(1000, 1250, 3.6, 15.0)
    assert found(short_lived) == []


# --- no fault ----------------------------------------------------------------------------------------


def test_slow_wander_is_no_stretch() -> None:
    """120 traces of 4 km: at four scales chance opens a run on hardly one trace in 250."""
    runs = sum(len(found(wander(seed))) for seed in range(24))
    assert runs <= 2


def test_bends_under_a_constant_error_are_no_stretch() -> None:
    """An error of 3.5 scales to the east turns from no offset into all of it at every right angle."""
    heading = np.repeat(np.tile([0.0, np.pi / 2], 10), SIZE // 20)
    deviation = 0.2 * wander(5) + 3.5 * np.sin(heading) * np.array([0, 0, 1, 0, 0])[:, None]
    assert found(deviation) == []


def test_a_trace_that_is_restless_all_along_has_a_bad_day_and_no_stretches() -> None:
    """Whether all traces are restless or one alone."""
    rng = np.random.default_rng(6)
    restless = np.clip(1.2 * gauss_markov(rng, 7, SIZE, STEP_M, 60.0), -3.7, 3.7)
    calm = wander(6, 7, sd=0.1)
    alone = [np.vstack([restless[trace], calm[1:]]) for trace in range(7)]
    assert sum(len(found(each)) for each in alone) <= 3
    assert len(found(restless)) <= 5


def test_bursts_that_are_usual_are_no_stretches_and_as_far_a_way_aside_is() -> None:
    """Errors driven six times as hard over 300 m, four times on each of five rides of 4 km, in 20 sets: at most
    one in twenty is a stretch. A way aside as far as they go is found in all sets without them."""
    burst = aside = 0
    at = STEP_M * np.arange(SIZE)
    scale = np.full((5, SIZE), 0.42)
    for seed in range(20):
        rng = np.random.default_rng([12, seed])
        usual = 0.3 * wander(100 + seed) + 0.3 * gauss_markov(rng, 5, SIZE, STEP_M, 200.0)
        wild = 1.8 * gauss_markov(rng, 5, SIZE, STEP_M, 200.0)
        begun = rng.uniform(0.0, 700.0, (5, 4)) + 1000.0 * np.arange(4)
        on = ((at > begun[..., None]) & (at < begun[..., None] + 300.0)).any(axis=1)
        burst += len(found(usual + np.where(on, wild, 0.0), scale=scale))
        usual[1] += ramped(1500, 1700, 3.5, 30.0)
        aside += [run.trace for run in found(usual, scale=scale)] == [1]
    assert burst <= 20 * 20 / 20
    assert aside == 20


def test_nothing_is_found_where_nothing_is_known() -> None:
    deviation = wander(7, sd=0.5)
    deviation[1] += ramped(1000, 1200, 12.0)
    deviation[1, 150:300] = np.nan
    assert found(deviation) == []
    assert found(np.full((3, SIZE), np.nan)) == []


@pytest.mark.parametrize("size", [1, 2, 5, 12])
def test_routes_of_a_few_stations_are_judged_without_fuss(size: int) -> None:
    assert found(np.zeros((3, size))) == []
    loud = np.zeros((3, size))
    loud[1] = 20.0
    runs = found(loud)
    assert [(run.trace, run.first, run.last) for run in runs] == ([(1, 0, size - 1)] if size >= 6 else [])


# --- the options -------------------------------------------------------------------------------------


def test_short_runs_are_dropped() -> None:
    """A fault of 60 m is kept down to that length; the least length is an option."""
    deviation = wander(8, sd=0.3)
    deviation[1] += ramped(1000, 1060, 12.0, 10.0)
    (run,) = found(deviation)
    length_m = (run.last - run.first + 1) * STEP_M
    assert length_m == pytest.approx(60.0, abs=10.0)
    assert len(found(deviation, options=Options(stretch_min_m=length_m))) == 1
    assert found(deviation, options=Options(stretch_min_m=length_m + 1)) == []


def test_short_breaks_are_closed() -> None:
    deviation = wander(9, sd=0.2)
    deviation[1] += ramped(1000, 1400, 9.0, 10.0)
    deviation[1, 238:244] = 0.0  # 30 m of nothing within 400 m of fault
    assert len(found(deviation)) == 1
    apart = found(deviation, options=Options(stretch_merge_m=10.0))
    assert len(apart) == 2
    assert apart[0].last < 244 <= apart[1].first + 2


def test_a_run_reaches_as_far_as_it_stays_above_the_lower_threshold() -> None:
    at = STEP_M * np.arange(SIZE)
    deviation = np.zeros((3, SIZE))
    deviation[0] = 5.5 * np.exp(-0.5 * ((at - 2000) / 200.0) ** 2)
    (run,) = found(deviation)
    for end in (run.first, run.last):
        assert 0.3 * 5.5 <= deviation[0, end] <= 0.6 * 5.5
    (wide,) = found(deviation, options=Options(stretch_leave=1.0))
    assert wide.first < run.first
    assert wide.last > run.last
    assert found(deviation, options=Options(stretch_enter=6.0)) == []
    assert len(found(deviation, options=Options(stretch_enter=5.4))) == 1


def test_runs_are_listed_by_trace_and_station() -> None:
    deviation = np.zeros((4, SIZE))
    for trace, at in ((3, 100), (0, 500), (3, 50), (0, 200)):
        deviation[trace, at : at + 20] = 9.0
    assert [(run.trace, run.first) for run in found(deviation)] == [(0, 200), (0, 500), (3, 50), (3, 100)]


def test_a_fault_at_either_end_of_the_route() -> None:
    deviation = np.zeros((3, SIZE))
    deviation[0, :30] = 8.0
    deviation[1, -30:] = -8.0
    first, last = found(deviation)
    assert (first.first, first.last, first.side) == (0, 29, 1)
    assert (last.first, last.last, last.side) == (SIZE - 30, SIZE - 1, -1)


@pytest.mark.parametrize("factor", [0.5, 20.0])
def test_deviations_and_scales_together_have_no_unit(factor: float) -> None:
    deviation = wander(10, sd=0.7)
    deviation[2] += ramped(1000, 1300, 9.0)
    here = found(deviation)
    assert here
    assert found(factor * deviation, scale=np.full(deviation.shape, factor)) == here
    mirrored = found(-deviation)
    assert [(r.first, r.last, -r.side) for r in mirrored] == [(r.first, r.last, r.side) for r in here]


def test_the_other_way_round_the_stretches_are_the_same() -> None:
    deviation = wander(11, sd=0.5)
    deviation[2] += ramped(1000, 1300, 9.0)
    deviation[4] += ramped(2000, 2200, -9.0)
    here = [(r.trace, r.first, r.last, r.side) for r in found(deviation)]
    back = found(-deviation[:, ::-1].copy())
    again = [(r.trace, SIZE - 1 - r.last, SIZE - 1 - r.first, -r.side) for r in back]
    for one, other in zip(here, sorted(again), strict=True):
        assert one[0] == other[0]
        assert one[3] == other[3]
        assert one[1:3] == pytest.approx(other[1:3], abs=1)


@pytest.mark.parametrize("height", [4.5, 9.0, 16.0])
@pytest.mark.parametrize(
    ("from_m", "to_m", "ramp_m"), [(1000, 1300, 10), (1200, 1600, 70), (60, 300, 40), (3700, 3940, 40)]
)
def test_ends_are_half_way_up_the_edges_or_three_scales_up(
    from_m: float, to_m: float, ramp_m: float, height: float
) -> None:
    """Without noise the ends are right to a station, on whatever level the trace lies otherwise."""
    for level in (0.0, 0.8):
        deviation = np.full((3, SIZE), level)
        deviation[1] += ramped(from_m, to_m, height, ramp_m)
        out = (0.5 - min(0.5, 3.0 / height)) * ramp_m
        (run,) = found(deviation)
        assert run.first * STEP_M == pytest.approx(from_m - out, abs=5.1)
        assert run.last * STEP_M == pytest.approx(to_m + out, abs=5.1)


@pytest.mark.parametrize("seed", range(60))
def test_an_end_is_put_on_the_nearest_rise_through_the_level(seed: int) -> None:
    """All stations in reach are tried one by one, inward from either end."""
    rng = np.random.default_rng(seed)
    z = np.abs(np.cumsum(rng.normal(0, 1, 30)))
    first, last = sorted(rng.choice(30, 2, replace=False).tolist())
    level, reach = float(np.median(z)), int(rng.integers(1, 12))
    for start, other, inward in ((first, last, 1), (last, first, -1)):
        rises = [
            k
            for k in range(max(1, start - reach), min(28, start + reach) + 1)
            if z[k] >= level > z[k - inward] and (k < other if inward == 1 else k > other)
        ]
        expected = min(rises, key=lambda k: abs(k - start)) if rises else start
        assert module._crossing(z, start, level, reach, other, inward) == expected


# --- masks -------------------------------------------------------------------------------------------


def test_a_mask_covers_the_runs_and_a_margin() -> None:
    runs = [Run(trace=1, first=3, last=5, side=1), Run(trace=2, first=0, last=0, side=1)]
    assert as_mask(runs, (4, 9)).dtype == bool
    np.testing.assert_array_equal(np.flatnonzero(as_mask(runs, (4, 9))[1]), [3, 4, 5])
    wide = as_mask(runs, (4, 9), 2)
    assert [np.flatnonzero(row).tolist() for row in wide] == [[], [1, 2, 3, 4, 5, 6, 7], [0, 1, 2], []]
    assert as_mask([Run(trace=0, first=7, last=8, side=1)], (1, 9), 4)[0].tolist() == [False] * 3 + [True] * 6


# --- shadows -----------------------------------------------------------------------------------------


def test_one_of_few_traces_that_strays_casts_shadows_on_the_other_side() -> None:
    """Two rides of two: the middle of +24 and 0 is 12, so that both of the other ride lie 12 to the left of it."""
    deviation = np.zeros((4, 100))
    deviation[0, 20:60], deviation[2:, 22:58] = 24.0, -12.0
    ride = np.array([0, 0, 1, 1])
    far = Run(trace=0, first=20, last=59, side=1)
    shadows = [Run(trace=t, first=22, last=57, side=-1) for t in (2, 3)]
    assert mirrored([far, *shadows], deviation, ride) == shadows
    assert mirrored([far, *shadows], deviation, np.zeros(4, dtype=int)) == []
    assert mirrored([far, *shadows], np.abs(deviation) * [[1], [1], [1.5], [1.5]], ride) == []
    same_side = [replace(run, side=1) for run in shadows]
    assert mirrored([far, *same_side], deviation, ride) == []
    beside = [replace(run, first=50, last=85) for run in shadows]
    deviation[2:, 50:86] = -12.0
    assert mirrored([far, *beside], deviation, ride) == []
