"""The studies that hold the analysis against its targets: each draws worlds and yields rows."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from judging import StretchScore, score_stretches, shifted_stations, station_errors, total, true_offsets
from rows import Row, analysed, covered, mean, root_ratio, share

from world import Fault, Receiver, simulate
from world.receivers import MIXTURE

PROCESSES = {
    "20 s": ((20.0, 1.0),),
    "60 s": ((60.0, 1.0),),
    "300 s": ((300.0, 1.0),),
    "1000 s": ((1000.0, 1.0),),
    "mixture": MIXTURE,
}
PAIR = (Receiver(name="alder", sigma_m=2.5), Receiver(name="bilberry", sigma_m=2.5))


def centreline(seeds: range, counts: Sequence[int] = (4, 6, 8)) -> Iterator[Row]:
    """RMS cross-track error of the centreline, over sigma/sqrt(n) and over the mean of the true offsets."""
    shapes = ("winding", "city", "straight", "loop")
    for kind, most in (("clean", 1.10), ("faults", 1.25)):
        for n in counts:
            squares, ideal = [], []
            for seed in seeds:
                faults = {"stretches": 2, "detours": 1} if kind == "faults" else {}
                world = simulate(shapes[seed % 4], seed=seed, rides=n, length_m=4000, **faults)
                station, error = shifted_stations(world, analysed(world))
                squares.append(float((error**2).mean()))
                ideal.append(float(np.nanmean(true_offsets(world, station).mean(axis=0) ** 2)))
            sigma = world.spread_m(Receiver())
            case = f"{kind}, n = {n}, σ {sigma:.2f} m"
            yield Row(case, "RMS / (σ/√n)", *root_ratio(squares, sigma**2 / n), high=most)
            if kind == "clean":
                yield Row(
                    case, "RMS / RMS of the mean of true offsets", *root_ratio(squares, ideal), high=most
                )


def c4(n: int) -> float:
    """Return the mean standard deviation of ``n`` normal values over sigma (ASTM MNL 7)."""
    return math.sqrt(2 / (n - 1)) * math.gamma(n / 2) / math.gamma((n - 1) / 2)


def spread(
    seeds: range,
    sampling: str = "1 s",
    counts: Sequence[int] = (3, 4, 6, 10),
    processes: Sequence[str] = tuple(PROCESSES),
) -> Iterator[Row]:
    """Bias of the spread and coverage of its interval, for the route and for segments."""
    shapes = ("winding", "straight", "city")
    for n in counts:
        for name in processes:
            receiver = Receiver(taus=PROCESSES[name], sampling=sampling)
            route, ideal, route_in, segment, square, segment_in = [], [], [], [], [], []
            for seed in seeds:
                own = 100_000 * n + 1000 * list(PROCESSES).index(name) + seed  # no two cases share draws
                world = simulate(shapes[seed % 3], seed=own, rides=n, length_m=4000, receivers=[receiver])
                found, sigma = analysed(world), world.spread_m(receiver)
                route.append(found.spread.value / sigma)
                offsets = true_offsets(world, np.arange(60.0, world.route.length_m - 30, 5.0))
                ideal.append(float(np.nanmean(offsets.var(axis=0, ddof=1))) / sigma**2)
                route_in.append(float(found.spread.low <= sigma <= found.spread.high))
                known = [s.spread for s in found.segments if np.isfinite(s.spread.value)]
                segment.append(float(np.mean([e.value for e in known])) / sigma)
                square.append(float(np.mean([e.value**2 for e in known])) / sigma**2)
                segment_in.append(float(np.mean([e.low <= sigma <= e.high for e in known])))
            case = f"n = {n}, τ {name}" + ("" if sampling == "1 s" else f", a point every {sampling}")
            squares = [value**2 for value in route]
            yield Row(case, "route: root mean square of value / σ", *root_ratio(squares, 1.0), 0.97, 1.03)
            if sampling == "1 s":  # sparser points say too little of the offsets between them
                ratio = root_ratio(squares, ideal)
                yield Row(case, "route: the same / that of the true offsets", *ratio, 0.97, 1.03)
            yield Row(case, "segments: root mean square of value / σ", *root_ratio(square, 1.0), 0.97, 1.03)
            yield Row(case, "route: mean of value / σ", *mean(route))
            note = f"the mean SD of {n} independent values is {c4(n):.3f} σ"
            yield Row(case, "segments: mean of value / σ", *mean(segment), note=note)
            yield Row(case, "route: interval holds σ", *covered(route_in), 0.93, 0.97)
            yield Row(case, "segments: interval holds σ", *covered(segment_in), 0.93, 0.97)


STRETCH_CASES = {
    "n = 4": (4, (Receiver(),)),
    "n = 6": (6, (Receiver(),)),
    "n = 8": (8, (Receiver(),)),
    "4 rides with companion": (4, PAIR),
    "6 rides with companion": (6, PAIR),
}


def stretches(seeds: range, cases: Sequence[str] = tuple(STRETCH_CASES)) -> Iterator[Row]:
    """Stretches and detours found, their ends, their causes, and what is reported beside them."""
    shapes = ("winding", "straight", "city", "loop")
    for case in cases:
        rides, receivers = STRETCH_CASES[case]
        scores = []
        for seed in seeds:
            world = simulate(
                shapes[seed % 4], seed=2000 + seed, rides=rides, length_m=5000, receivers=receivers,
                common_share=0.3, stretches=2, detours=1,
            )  # fmt: skip
            scores.append(score_stretches(world, analysed(world)))
        whole = total(scores)
        ends = np.abs(whole.end_errors_m)
        note = f"median |end| {np.median(ends):.0f} m, 95 % {np.quantile(ends, 0.95):.0f} m"
        yield Row(case, "found", *share(whole.found, whole.true), low=0.98, note=f"{whole.true} true")
        yield Row(case, "both ends within 25 m", *share(whole.ends_right, whole.found), low=0.98, note=note)
        yield _false(case, whole)
        if whole.cause_known:
            yield Row(case, "cause right", *share(whole.cause_right, whole.cause_known), low=0.95)


def _false(case: str, whole: StretchScore) -> Row:
    per = 50 / whole.trace_km
    return Row(
        case, "false per 50 trace-km", per * whole.false, per * np.sqrt(max(whole.false, 1)), high=1.0,
        note=f"{whole.trace_km:.0f} km",
    )  # fmt: skip


def quiet(seeds: range, processes: Sequence[str] = tuple(PROCESSES)) -> Iterator[Row]:
    """Stretches reported where there are none."""
    for name in processes:
        taus = PROCESSES[name]
        scores = []
        for seed in seeds:
            world = simulate(
                "winding", seed=3000 + seed, rides=6, length_m=5000, receivers=[Receiver(taus=taus)]
            )
            scores.append(score_stretches(world, analysed(world)))
        yield _false(f"no faults, n = 6, τ {name}", total(scores))


def matching(
    seeds: range, shapes: Sequence[str] = ("hairpins", "crossing", "spur", "loop", "figure of eight")
) -> Iterator[Row]:
    """Points matched more than 30 m along the line off their place."""
    for shape in shapes:
        wrong = points = unmatched = worlds = 0
        for seed in seeds:
            world = simulate(shape, seed=4000 + seed, rides=5, length_m=2500)
            found = analysed(world)
            errors = np.concatenate([station_errors(world, found, r) for r in world.recordings])
            off = int((np.abs(errors[np.isfinite(errors)]) > 30).sum())
            wrong, worlds = wrong + off, worlds + (off > 0)
            points, unmatched = points + len(errors), unmatched + int(np.isnan(errors).sum())
        note = f"of {points}, in {worlds} of {len(seeds)} worlds; {unmatched} points on no station"
        yield Row(shape, "points on a wrong leg", float(wrong), low=0, high=0, note=note)


def fixes(seeds: range) -> Iterator[Row]:
    """First fix and settled fix against the truth, by files and their sheet."""
    first: list[float] = []
    settled: dict[bool, list[float]] = {True: [], False: []}
    invented = untold = 0
    for seed in seeds:
        rng = np.random.default_rng(seed)
        slow = [
            Fault(
                kind="settling",
                ride=k,
                offset_m=rng.choice([-1, 1]) * rng.uniform(30, 60),
                seconds=rng.uniform(30, 60),
            )
            for k in (0, 3)
        ]
        world = simulate(
            "winding", seed=5000 + seed, rides=6, length_m=4000, faults=slow, fix_s=(1, 60),
            start_known=[True, True, False, True, True, False],
        )  # fmt: skip
        found = analysed(world, by_files=True)
        for recording in world.recordings:
            trace = next(t for t in found.traces if t.file.endswith(recording.file))
            value, told = trace.settled_fix.value_s, np.isfinite(trace.settled_fix.value_s)
            if not recording.start_known:
                invented += bool(told or np.isfinite(trace.first_fix.value_s))
                continue
            first.append(trace.first_fix.value_s - recording.first_fix_s)
            true = recording.settled_s(trace.settled_fix.band_m, trace.settled_fix.hold_s)
            if told and np.isfinite(true):
                settled[recording.ride in (0, 3)].append(value - true)
            untold += bool(told != np.isfinite(true))
    known = share(float(np.sum(np.abs(first) <= 1)), len(first))
    yield Row("start known", "first fix within 1 s", *known, low=1.0, note=f"{len(first)} traces")
    yield Row("start unknown", "numbers given all the same", float(invented), low=0, high=0)
    for slow_start, case in ((True, "settles from 30–60 m"), (False, "good from the first fix")):
        off = np.abs(settled[slow_start])
        middle = np.median(settled[slow_start])
        note = f"median error {middle:+.1f} s, 95 % of |error| {np.quantile(off, 0.95):.0f} s"
        yield Row(
            case,
            "settled fix within 5 s of the true offset's",
            *share(float((off <= 5).sum()), len(off)),
            note=note,
        )
    yield Row("all with a start", "settled told where it is not, or the reverse", float(untold))


PAIR_CASES = ((4, "60 s"), (4, "mixture"), (8, "60 s"), (8, "mixture"))


def pairs(seeds: range, cases: Sequence[tuple[int, str]] = PAIR_CASES) -> Iterator[Row]:
    """Two receivers ridden together: clock offset, and the standard deviation of each."""
    for rides, name in cases:
        clock: list[float] = []
        off: dict[str, list[float]] = {"alder": [], "bilberry": []}
        taus = PROCESSES[name]
        for seed in seeds:
            late_s = float(seed % 7 - 3)
            two = (
                Receiver(name="alder", sigma_m=1.5, taus=taus),
                Receiver(name="bilberry", sigma_m=3.0, taus=taus, clock_offset_s=late_s),
            )
            world = simulate("winding", seed=6000 + seed, rides=rides, length_m=5000, receivers=two)
            found = analysed(world).pairs[0]
            ahead = found.clock_offset_s.value if found.a == "bilberry" else -found.clock_offset_s.value
            clock.append(ahead - late_s)
            sd = {found.a: found.sd_a.value, found.b: found.sd_b.value}
            for receiver in two:
                off[receiver.name].append(sd[receiver.name] / receiver.sigma_m - 1)
        case = f"{rides} rides, σ 1.5 and 3 m, τ {name}"
        near = share(float(np.sum(np.abs(clock) <= 1)), len(clock))
        yield Row(case, "clock within 1 s", *near, low=1.0, note=f"mean error {np.mean(clock):+.2f} s")
        for receiver_name, errors in off.items():
            known = np.abs(errors)[np.isfinite(errors)]
            yield Row(
                case, f"median |error| of the SD of {receiver_name}", float(np.median(known)),
                float(1.25 * known.std() / np.sqrt(len(known))), high=0.15,
                note=f"{len(errors) - len(known)} not separable",
            )  # fmt: skip
