"""Ratios of time, side by side in one run, printed as Markdown tables; not a test.

Usage: python tests/bench/bench.py [--rides 10 100 1000] [--skip-averaging] [--archive 10 50 100] [--only PART]

The averaging by dynamic time warping comes from tslearn (pip install tslearn), used here only.
"""

from __future__ import annotations

import argparse
import glob
import importlib
import json
import os
import platform
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent))

import gpxpy
import numpy as np
import scipy
import shapely
from campaign import write_campaign
from scipy.spatial import cKDTree

from trackspread.geometry.consensus.centreline import centreline
from trackspread.geometry.matching import match
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.pipeline.tracks import Tracks, on_grid
from trackspread.readers import read_files
from trackspread.report.write import write_all
from world import simulate
from world.files import write_gpx
from world.witnesses import as_witnesses

HOUR_M = 19_500.0
DAY_S = 86_400.0  # between two rides of the invented world


def seconds(work: Callable[[], Any], times: int = 3) -> float:
    """Return the shortest processor time of some runs."""
    spent = []
    for _ in range(times):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return min(spent)


def library(folder: str) -> None:
    for name in sorted(glob.glob(f"{folder}/*.gpx")):
        with open(name) as stream:
            gpxpy.parse(stream)


def stages(folder: str, out: str) -> None:
    """The stages of one analysis against the GPX library's parse of the same files."""
    world = simulate("winding", seed=1, rides=10, length_m=HOUR_M)
    world.write_gpx(folder)
    witnesses = as_witnesses(world)
    base = seconds(lambda: library(folder))
    analysis = analyse(witnesses, Options())
    rows = {
        "gpxpy.parse": base,
        "reading": seconds(lambda: read_files([folder])),
        "analysis (grouping to film list)": seconds(lambda: analyse(witnesses, Options())),
        "all default outputs": seconds(lambda: write_all(analysis, out)),
        "python -c pass": processor([sys.executable, "-c", "pass"]),
        "trackspread --help": processor([sys.executable, "-m", "trackspread", "--help"]),
    }
    analyse_all = [
        sys.executable,
        "-m",
        "trackspread",
        "analyse",
        folder,
        "--out",
        out,
        "--no-cache",
        "--quiet",
    ]
    for workers in ("1", "2"):
        arguments = [*analyse_all, "--workers", workers]
        rows[f"whole command, --workers {workers}, wall time"] = command(arguments)
        rows[f"whole command, --workers {workers}"] = processor(arguments)
    print(f"\n10 rides of one hour at 1 Hz, {sum(len(w.trace.time_s) for w in witnesses)} points\n")
    print("| stage | s | × gpxpy |\n|---|---|---|")
    for name, spent in rows.items():
        print(f"| {name} | {spent:.3f} | {spent / base:.2f} |")


_COMMAND = """
import json, os, resource, sys
from trackspread.cli import main
try:
    main(sys.argv[1:])
except SystemExit as end:
    assert end.code in (0, 1), end.code
own, workers = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
cpu = sum(used.ru_utime + used.ru_stime for used in (own, workers))
print(json.dumps([cpu, max(own.ru_maxrss, workers.ru_maxrss) / 1024]))
"""


def ridden(counts: list[int]) -> None:
    """The whole command on campaigns as people ride them: other ways, stops, gaps, a point every 2 to 3 s.

    Then once more with another threshold, on unchanged files, which the cache knows by now.
    """
    print(
        "\n| rides | points | processor s | peak memory MB | report MB | again, processor s | of the first |"
    )
    print("|---|---|---|---|---|---|---|", flush=True)
    spent = []
    for count in counts:
        with tempfile.TemporaryDirectory() as folder:
            os.environ["TRACKSPREAD_CACHE"] = f"{folder}/cache"
            os.environ["OPENBLAS_NUM_THREADS"] = "1"  # as the command has it
            points = write_campaign(Path(folder, "traces"), count)
            once = ["analyse", f"{folder}/traces", "--out", f"{folder}/out", "--quiet", "--workers", "1"]
            cpu, peak = child(_COMMAND, *once)
            again, _ = child(_COMMAND, *once, "--steady", "4")
            size = Path(folder, "out", "report.html").stat().st_size / 1e6
        spent.append(cpu)
        print(
            f"| {count} | {points} | {cpu:.1f} | {peak:.0f} | {size:.1f} | {again:.1f} | {again / cpu:.0%} |",
            flush=True,
        )
    if len(counts) > 1:
        slope = np.polyfit(np.log(counts), np.log(spent), 1)[0]
        print(f"\nfitted exponent of time over rides: {slope:.2f}")


def command(arguments: list[str]) -> float:
    """Return the shortest wall time of a command, three runs."""
    spent = []
    for _ in range(3):
        start = time.perf_counter()
        subprocess.run(arguments, check=True, capture_output=True)
        spent.append(time.perf_counter() - start)
    return min(spent)


def processor(arguments: list[str]) -> float:
    """Return the shortest processor time of a command and its workers, three runs (Unix)."""
    spent = []
    for _ in range(3):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(arguments, check=True, capture_output=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        spent.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(spent)


def averaging() -> None:
    """Consensus against barycentre averaging by dynamic time warping, at equal station count."""
    print("\n| world | consensus s | averaging s | × faster | consensus error m | averaging error m |")
    print("|---|---|---|---|---|---|")
    for length_m, detours in ((5000.0, 0), (5000.0, 3), (HOUR_M, 0), (HOUR_M, 6)):
        world = simulate("winding", seed=3, rides=8, length_m=length_m, detours=detours)
        tracks = on_grid(tuple(as_witnesses(world)), Options())
        ours, line = timed(partial(centreline, tracks.bundle, step_m=5.0, reach_m=60.0, gap_m=80.0), 3)
        line = np.column_stack([line[0].x, line[0].y])
        series = [
            np.column_stack([tracks.bundle.x[p], tracks.bundle.y[p]]) for p in map(tracks.bundle.of, range(8))
        ]
        barycentre = importlib.import_module("tslearn.barycenters").dtw_barycenter_averaging
        barycentre([part[:50] for part in series], max_iter=1)  # compiles
        theirs, average = timed(partial(barycentre, series, barycenter_size=len(line), max_iter=10), 1)
        errors = " | ".join(f"{error_m(world, tracks, x):.2f}" for x in (line, average))
        name = f"{length_m / 1000:.1f} km, {detours} detours"
        print(f"| {name} | {ours:.3f} | {theirs:.2f} | {theirs / ours:.0f} | {errors} |", flush=True)


def timed(work: Callable[[], Any], times: int) -> tuple[float, Any]:
    """Return the shortest processor time of some runs, and what the last returned."""
    results: list[Any] = []
    return seconds(lambda: results.append(work()), times), results[-1]


def error_m(world: Any, tracks: Tracks, line: np.ndarray) -> float:
    """Return the root mean square distance of a line's vertices to the truth."""
    _, lon, lat = world.centreline()
    x, y = tracks.grid.forward(lon, lat)
    fine = np.linspace(0, len(x) - 1, 8 * len(x))
    truth = np.column_stack([np.interp(fine, np.arange(len(x)), c) for c in (x, y)])
    return float(np.sqrt(np.mean(cKDTree(truth).query(line)[0] ** 2)))


def locating() -> None:
    """Matching in order of travel against shapely's nearest point of the line."""
    world = simulate("winding", seed=1, rides=10, length_m=HOUR_M)
    tracks = on_grid(tuple(as_witnesses(world)), Options())
    line, _ = centreline(tracks.bundle, step_m=5.0, reach_m=60.0, gap_m=80.0)
    curve = shapely.LineString(np.column_stack([line.x, line.y]))
    points = shapely.points(tracks.bundle.x, tracks.bundle.y)
    ours = seconds(lambda: match(tracks.bundle, line, 60.0))
    theirs = seconds(lambda: shapely.line_locate_point(curve, points), 1)
    print(f"\nmatching {len(points)} points to {len(line.x)} vertices: {ours:.2f} s, ", end="")
    print(f"shapely.line_locate_point {theirs:.2f} s, {theirs / ours:.0f} times as long")


_ARCHIVE = """
import json, resource, sys, time
from trackspread.cli import main
root, out, workers = sys.argv[1:]
start = time.perf_counter()
try:
    main(['archive', root, '--out', out, '--workers', workers, '--quiet'])
except SystemExit as end:
    assert end.code == 0, end.code
wall = time.perf_counter() - start
own, workers = (resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
cpu = sum(u.ru_utime + u.ru_stime for u in (own, workers))
print(json.dumps([wall, cpu, own.ru_maxrss / 1024, workers.ru_maxrss / 1024]))
"""
_ROUTES = """
import json, sys, time
from trackspread.archive.run import Job, analyse_one
from trackspread.options import Options
jobs = [Job(name=n, traces=f'{sys.argv[1]}/{n}', result=f'{sys.argv[2]}/{n}', options=Options()) for n in sys.argv[3:]]
assert analyse_one(jobs[0]).state == 'done'  # loads all that is needed
wall, cpu = time.perf_counter(), time.process_time()
assert all(analyse_one(job).state == 'done' for job in jobs[1:])
print(json.dumps([(t - s) / len(jobs[1:]) for t, s in ((time.perf_counter(), wall), (time.process_time(), cpu))]))
"""


def archive(counts: list[int], workers: int = 2, rides: int = 10, length_m: float = 5000.0) -> None:
    """Archives of growing size against single routes, done one by one before and after each (Unix).

    A single route is timed in a process that has loaded everything, so what it takes to start the workers and
    to write the index counts against the archive.
    """
    print(
        f"\n{rides} rides of {length_m / 1000:g} km a route, {workers} workers; a route: mean of 6, each alone\n"
    )
    print("| routes | a route s | archive wall s | × wall | × processor | parent MB | largest worker MB |")
    print("|---|---|---|---|---|---|---|", flush=True)
    with tempfile.TemporaryDirectory() as folder:
        for number in range(max(counts)):
            world = simulate("winding", seed=number, rides=rides, length_m=length_m)
            world.write_gpx(f"{folder}/all/route {number:03d}")
        for count in counts:
            root = Path(folder, f"first {count}")
            names = [f"route {number:03d}" for number in range(count)]
            for name in names:
                shutil.copytree(Path(folder, "all", name), root / name, copy_function=os.link)
            some = names[:: max(1, count // 4)][:4]
            alone = [child(_ROUTES, str(root), f"{folder}/alone {count} a", *some)]
            wall, cpu, parent, worker = child(_ARCHIVE, str(root), f"{folder}/out {count}", str(workers))
            alone.append(child(_ROUTES, str(root), f"{folder}/alone {count} b", *some))
            one_wall, one_cpu = np.mean(alone, axis=0)
            row = (
                f"{one_cpu:.2f}", f"{wall:.1f}", f"{wall / (one_wall * count / workers):.2f}",
                f"{cpu / (one_cpu * count):.2f}", f"{parent:.0f}", f"{worker:.0f}",
            )  # fmt: skip
            print(f"| {count} | {' | '.join(row)} |", flush=True)


def child(code: str, *arguments: str) -> list[float]:
    """Return what a script prints as JSON, run in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], check=True, capture_output=True, text=True
    )
    numbers: list[float] = json.loads(done.stdout.splitlines()[-1])
    return numbers


_GROWTH = """
import json, sys, time
from trackspread.api import analyse
start = time.process_time()
analysis = analyse(sys.argv[1])
used = len(analysis.routes[0].traces)
lines = dict(line.split(':', 1) for line in open('/proc/self/status'))
peak = int(lines['VmHWM'].split()[0]) / 1024
print(json.dumps([used, time.process_time() - start, peak]))
"""


def growth(counts: list[int], length_m: float = HOUR_M, at_one_time: bool = False) -> None:
    """Time and memory over the number of rides, of one hour each, every count in its own process (Linux).

    Or ``at_one_time``: all ridden at the same time with a watch each.
    """
    kind = "rides at one time" if at_one_time else "rides"
    print(f"\n| {kind}, {length_m / 1000:g} km | used | s | peak memory MB |\n|---|---|---|---|")
    spent = []
    for count in counts:
        with tempfile.TemporaryDirectory() as folder:
            world = simulate(
                "winding", seed=1, rides=count, length_m=length_m, file_names="watch{ride:04d}.gpx"
            )
            later_s = DAY_S if at_one_time else 0.0
            recordings = [
                replace(r, time_s=r.time_s - later_s * r.ride, start_s=r.start_s - later_s * r.ride)
                for r in world.recordings
            ]
            write_gpx(recordings, Path(folder))
            used, cpu, peak = child(_GROWTH, folder)
        spent.append(cpu)
        print(f"| {count} | {used:.0f} | {cpu:.1f} | {peak:.0f} |", flush=True)
    if len(counts) > 1:
        slope = np.polyfit(np.log(counts), np.log(spent), 1)[0]
        print(f"\nfitted exponent of time over rides: {slope:.2f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rides", type=int, nargs="*", default=[10, 30, 100])
    parser.add_argument("--skip-averaging", action="store_true")
    parser.add_argument("--archive", type=int, nargs="*", default=[], help="numbers of routes")
    parts = ["stages", "averaging", "locating", "growth", "ridden", "archive"]
    parser.add_argument("--only", choices=parts)
    chosen = parser.parse_args()
    print(
        f"{platform.machine()}, Python {platform.python_version()}, "
        f"numpy {np.__version__}, scipy {scipy.__version__}"
    )
    wanted = {chosen.only} if chosen.only else set(parts)
    if "stages" in wanted:
        with tempfile.TemporaryDirectory() as folder:
            stages(f"{folder}/traces", f"{folder}/out")
    if "averaging" in wanted and not chosen.skip_averaging:
        averaging()
    if "locating" in wanted:
        locating()
    if "growth" in wanted:
        growth(chosen.rides)
        growth(chosen.rides, 5000.0, at_one_time=True)
    if "ridden" in wanted:
        ridden(chosen.rides)
    if "archive" in wanted and chosen.archive:
        archive(chosen.archive)


if __name__ == "__main__":
    main()
