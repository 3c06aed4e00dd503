"""An archive through a cluster of Dask on this machine: time, and memory of every process as it grows (Linux).

Usage: python tests/bench/cluster.py [--routes 25 50 100] [--rides 10] [--workers 2]
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent))

from distributed import Client, LocalCluster

from world import simulate

LENGTH_M = 5000.0
PACE_S = 0.5


def resident_mb(process: int) -> float:
    try:
        lines = Path(f"/proc/{process}/status").read_text("ascii").splitlines()
    except OSError:
        return 0.0
    return next((int(line.split()[1]) / 1024 for line in lines if line.startswith("VmRSS")), 0.0)


class Watch(threading.Thread):
    """Notes the largest memory of some processes until it is stopped."""

    def __init__(self, processes: dict[str, list[int]]) -> None:
        super().__init__(daemon=True)
        self.processes, self.most = processes, dict.fromkeys(processes, 0.0)
        self.over = threading.Event()
        self.start()

    def run(self) -> None:
        while not self.over.wait(PACE_S):
            for name, numbers in self.processes.items():
                self.most[name] = max(self.most[name], *(resident_mb(number) for number in numbers))


def cpu_s(processes: list[int]) -> float:
    ticks = 0
    for process in processes:
        fields = Path(f"/proc/{process}/stat").read_text("ascii").rpartition(")")[2].split()
        ticks += int(fields[11]) + int(fields[12])
    return ticks / 100.0


def once(root: Path, out: Path, workers: int) -> list[float]:
    """Return wall and processor seconds, and the largest memory of scheduler, worker and the command."""
    with (
        LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        parts: dict[str, Any] = client.run(lambda: __import__("os").getpid())
        scheduler: int = client.run_on_scheduler(lambda: __import__("os").getpid())
        address = cluster.scheduler_address
        begun, before = time.perf_counter(), cpu_s([*parts.values()])
        command = [
            sys.executable, "-m", "trackspread", "archive", str(root), "--out", str(out), "--scheduler",
            address, "--quiet",
        ]  # fmt: skip
        with subprocess.Popen(command) as run:
            watch = Watch({"scheduler": [scheduler], "worker": [*parts.values()], "command": [run.pid]})
            assert run.wait() == 0
        watch.over.set()
        spent = cpu_s([*parts.values()]) - before
        wall = time.perf_counter() - begun
    return [wall, spent, watch.most["scheduler"], watch.most["worker"], watch.most["command"]]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--routes", type=int, nargs="*", default=[25, 50, 100])
    parser.add_argument("--rides", type=int, default=10)
    parser.add_argument("--workers", type=int, default=2)
    chosen = parser.parse_args()
    print(
        "| routes | rides | wall s | workers' processor s | a route s | scheduler MB | worker MB | command MB |"
    )
    print("|---|---|---|---|---|---|---|---|", flush=True)
    with tempfile.TemporaryDirectory() as folder:
        for count in chosen.routes:
            root = Path(folder, f"first {count}")
            for number in range(count):
                world = simulate("winding", seed=number, rides=chosen.rides, length_m=LENGTH_M)
                world.write_gpx(root / f"route {number:04d}")
            wall, spent, *memory = once(root, Path(folder, f"out {count}"), chosen.workers)
            figures = [f"{wall:.0f}", f"{spent:.0f}", f"{spent / count:.2f}", *(f"{m:.0f}" for m in memory)]
            print(f"| {count} | {count * chosen.rides} | {' | '.join(figures)} |", flush=True)


if __name__ == "__main__":
    main()
