"""What chance makes: rates by formula, tails by the law of peaks, and what has a say in them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from polylines import gauss_markov
from trackspread.numeric.robust import running_mean
from trackspread.statistics.astray.chance import (
    CHANCE_A_KM,
    JEFFREYS,
    MEAN_OVER_M,
    NEARBY_M,
    OVER,
    PRIOR_KM,
    TAIL_SHAPE,
    Span,
    _excursions,
    _pairs,
    _weights,
    chance_a_km,
)

STEP_M, SIZE = 5.0, 1200
RUN = Span(1, 600, 639)


def calm(seed: int = 1, traces: int = 5) -> np.ndarray:
    """Return errors of 0.4 scales alike over 300 m, with a step of 7 scales out and back on trace 1."""
    z = 0.4 * gauss_markov(np.random.default_rng(seed), traces, SIZE, STEP_M, 300.0)
    z[RUN.trace, RUN.first : RUN.last + 1] += 7.0
    return z


def rate(z: np.ndarray, known: np.ndarray | None = None, receiver: np.ndarray | None = None) -> float:
    known = np.ones(z.shape, dtype=bool) if known is None else known
    return float(chance_a_km(z, known, [RUN], STEP_M, receiver)[0])


def test_pairs_meet_as_often_as_points_of_a_poisson_process_do() -> None:
    """Pairs of points drawn at random, at most 200 m apart and of opposite sides, are counted."""
    rng = np.random.default_rng(4)
    a_km, length_km, way_km = 0.8, 0.2, 100_000.0
    at = np.sort(rng.uniform(0.0, way_km, round(a_km * way_km)))
    side = rng.choice([-1, 1], len(at))
    pairs = sum(int(((at[k:] - at[:-k] <= length_km) & (side[k:] != side[:-k])).sum()) for k in range(1, 8))
    z = np.zeros((4, SIZE))
    z[RUN.trace, RUN.first : RUN.last + 1] = 8.0
    z[2:, 200:] += 8.0
    km, known = np.full(4, SIZE * STEP_M / 1000.0), np.ones(z.shape, dtype=bool)
    told = float(_pairs(z, known, [RUN], STEP_M, km, np.ones((4, 4)))[0])
    near_km = 2 * NEARBY_M / 1000.0 + 0.2
    edges_a_km = PRIOR_KM * (2 + JEFFREYS) / km.sum() / (near_km + PRIOR_KM)
    assert told == pytest.approx(pairs / way_km * (edges_a_km / a_km) ** 2, rel=0.05)


def test_excursions_exceed_a_height_as_the_generalised_pareto_law_says() -> None:
    """The law of scipy.stats, of the shape of Student's t with five degrees of freedom (1 / dof)."""
    z = np.zeros((3, SIZE))
    for number, peak in enumerate((2.5, 3.0, 3.5, 2.2)):
        z[0, 100 + 200 * number : 110 + 200 * number] = peak
    z[RUN.trace, RUN.first : RUN.last + 1] = 6.0
    km = np.full(3, SIZE * STEP_M / 1000.0)
    told = float(_excursions(z, [RUN], STEP_M, km, np.ones((3, 3)), np.array([False]))[0])
    mean = (0.5 + 1.0 + 1.5 + 0.2 + 3 * 0.5) / (4 + 3)
    tail = stats.genpareto(TAIL_SHAPE, scale=mean * (1 - TAIL_SHAPE)).sf(6.0 - OVER)
    assert told == pytest.approx((4 + JEFFREYS) / km.sum() * tail, rel=1e-9)
    assert stats.genpareto(TAIL_SHAPE, scale=mean * (1 - TAIL_SHAPE)).mean() == pytest.approx(mean)


def test_a_step_out_and_back_is_rare_and_one_that_never_comes_back_is_not() -> None:
    z = calm()
    assert rate(z) < CHANCE_A_KM / 10
    fading = calm()
    fading[RUN.trace, RUN.first :] = 7.0 * np.exp(-STEP_M * np.arange(SIZE - RUN.first) / 200.0)
    assert rate(fading) > 3 * rate(z)


def test_the_jumps_and_heights_of_the_other_rides_make_it_more_frequent() -> None:
    jumping, high = calm(), calm()
    jumping[2, 300:] += 6.0
    jumping[3, 800:] -= 6.0
    high[0] += 6.0 * np.exp(-0.5 * ((np.arange(SIZE) - 300) / 40.0) ** 2)
    assert rate(jumping) > rate(calm())
    assert rate(high) > rate(calm())


def test_another_fault_of_the_rides_has_no_say() -> None:
    z = calm()
    z[3, 200:240] -= 9.0
    found = [RUN, Span(3, 200, 239)]
    both = chance_a_km(z, np.ones(z.shape, dtype=bool), found, STEP_M)
    assert both[0] == pytest.approx(rate(calm()), rel=0.3)


def test_faults_that_their_edges_do_not_tell_are_left_out_once_they_are_found() -> None:
    """Among rides that jump as far pairs of edges are usual; the heights of two faults still tell them."""
    z, way = 0.1 * calm(), np.arange(SIZE) * STEP_M
    for trace in (0, 2):
        for number, at in enumerate(np.arange(400.0, 6000.0, 500.0)):
            z[trace] += 2.4 * (-1) ** number * np.tanh((way - at - 70.0 * trace) / 10.0)
    found = [RUN, Span(3, 200, 239)]
    for run in found:
        z[run.trace, run.first : run.last + 1] = 9.0
    km, known, alike = np.full(5, SIZE * STEP_M / 1000.0), np.ones(z.shape, dtype=bool), np.ones((5, 5))
    pairs = _pairs(z, known, found, STEP_M, km, alike)
    mean = running_mean(z, round(MEAN_OVER_M / 2 / STEP_M))
    both = pairs * _excursions(mean, found, STEP_M, km, alike, np.array([True, True]))
    assert (pairs > CHANCE_A_KM).all()
    assert chance_a_km(z, known, found, STEP_M) == pytest.approx(both * (1 - np.log(both)), rel=1e-9)


def test_other_receivers_count_for_two_kilometres_beside_ones_own() -> None:
    km = np.array([6.0, 6.0, 5.0, 5.0])
    weight = _weights(km, np.array([0, 0, 1, 1]))
    assert float(weight[0, 2:] @ km[2:]) == pytest.approx(PRIOR_KM)
    assert weight[0, :2].tolist() == [1.0, 1.0]
    wild = calm()
    wild[3, ::60] += 9.0
    of_another = np.array([0, 0, 0, 1, 0])
    assert rate(wild, receiver=of_another) < rate(wild)


def test_where_the_data_end_an_end_takes_the_place_of_an_edge() -> None:
    """The run reaches to the end of the trace: its other edge is not seen, and the ends are two a trace."""
    z, known = calm(), np.ones((5, SIZE), dtype=bool)
    known[RUN.trace, RUN.last + 1 :] = False
    z[~known] = 0.0
    assert rate(calm()) < rate(z, known) < CHANCE_A_KM


def test_nothing_found_has_no_rates() -> None:
    assert chance_a_km(calm(), np.ones((5, SIZE), dtype=bool), [], STEP_M).shape == (0,)
