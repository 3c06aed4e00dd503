"""What the watches' own files cost beside GPX of the same rides: ratios of one run, as Markdown; not a test.

Usage: python tests/bench/activity_files.py [--rides 8] [--length 6500]

Three invented watches; 8 rides of 6.5 km make 24 files of some 20 minutes at 1 Hz in one flat folder.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

import fitdecode

from trackspread import analyse
from trackspread.readers import read_files
from world import Receiver, simulate
from world.activity_files import fit_bytes, tcx_text
from world.files import gpx_text

KINDS = ("gpx", "fit", "tcx")
WATCHES = tuple(
    Receiver(name=name, sigma_m=sigma) for name, sigma in (("sedge", 2.0), ("moss", 2.5), ("fern", 3.0))
)
SEED = 20310709


def write(folder: Path, rides: int, length_m: float) -> tuple[int, int]:
    """Write the same rides in each format; return how many files of each kind, and points."""
    world = simulate("winding", seed=SEED, rides=rides, receivers=WATCHES, length_m=length_m)
    for kind in KINDS:
        (folder / kind).mkdir()
    for recording in world.recordings:
        name = f"{recording.receiver.name}_{recording.ride + 1}"
        (folder / "gpx" / f"{name}.gpx").write_text(gpx_text(recording))
        (folder / "fit" / f"{name}.fit").write_bytes(fit_bytes(recording))
        (folder / "tcx" / f"{name}.tcx").write_text(tcx_text(recording))
    return len(world.recordings), sum(len(recording.time_s) for recording in world.recordings)


def processor_s(work: Callable[[], object], times: int = 3) -> float:
    """Return the shortest processor time of some runs, seconds."""
    spent = []
    for _ in range(times):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return min(spent)


def decoder_s(folder: Path) -> float:
    """Return what the decoder alone takes for every message of the files, with checksums."""

    def work() -> None:
        for file in sorted(folder.iterdir()):
            with fitdecode.FitReader(str(file)) as frames:
                for _ in frames:
                    pass

    return processor_s(work, 1)


def command(folder: Path, place: Path, *options: str) -> tuple[float, float]:
    """Return wall and processor time of the whole command, seconds."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "trackspread", "analyse", str(folder), "--out", str(place / "out"), "--quiet", *options],
        check=True, env=os.environ | {"TRACKSPREAD_CACHE": str(place / "cache")},
    )  # fmt: skip
    wall_s, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall_s, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    """Print the tables."""
    options = argparse.ArgumentParser()
    options.add_argument("--rides", type=int, default=8)
    options.add_argument("--length", type=float, default=6500.0)
    wanted = options.parse_args()
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        files, points = write(place, wanted.rides, wanted.length)
        print(
            f"{files} files of each kind, {points} points, seed {SEED}; cache off, one process, processor time\n"
        )
        analyse(place / "gpx")  # everything is loaded
        print("| files | reading s | × GPX | reading and analysis s | × GPX |\n|---|---|---|---|---|")
        first: list[float] = []
        for kind in KINDS:
            read_s = processor_s(partial(read_files, [place / kind]))
            whole_s = processor_s(partial(analyse, place / kind))
            first = first or [read_s, whole_s]
            print(
                f"| {kind.upper()} | {read_s:.2f} | {read_s / first[0]:.2f} | {whole_s:.2f} | {whole_s / first[1]:.2f} |"
            )
        print(f"\nthe FIT decoder alone, all messages: {decoder_s(place / 'fit'):.2f} s\n")
        print("| whole command | wall s | processor s |\n|---|---|---|")
        for kind in ("gpx", "fit"):
            for workers in ("1", "2"):
                told = command(place / kind, place, "--workers", workers, "--no-cache")
                print(f"| {kind.upper()}, --workers {workers}, no cache | {told[0]:.1f} | {told[1]:.1f} |")
            for state in ("cold", "warm"):
                told = command(place / kind, place, "--workers", "2")
                print(f"| {kind.upper()}, --workers 2, cache {state} | {told[0]:.1f} | {told[1]:.1f} |")


if __name__ == "__main__":
    main()
