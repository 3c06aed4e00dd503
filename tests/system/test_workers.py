"""Any executor gives what one process gives, to the byte; what a lost worker had under way is not lost."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from distributed import LocalCluster

from thinly import first_quick
from trackspread.api import analyse, write_report
from trackspread.pipeline import analyse as pipeline
from trackspread.system.cluster import cluster_executor
from trackspread.system.workers import Workers, in_order
from world import simulate


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two routes of three rides each, and a file that is none."""
    folder = tmp_path_factory.mktemp("rides")
    for seed in (1, 2):
        simulate("winding", seed=seed, rides=3, length_m=900.0).write_gpx(folder / f"route {seed}")
    (folder / "broken.gpx").write_text("<gpx></gpx>")
    return folder


def contents(folder: Path, out: Path, executor: Executor | None) -> dict[str, bytes]:
    analysis = replace(analyse(folder, executor=executor), created_s=1.7e9)
    assert len(analysis.routes) == 2
    assert len(analysis.problems) == 1
    return {path.name: path.read_bytes() for path in write_report(analysis, out, executor=executor)}


@pytest.fixture(scope="module")
def alone(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    return contents(folder, tmp_path_factory.mktemp("alone") / "out", None)


@pytest.fixture(autouse=True)
def _every_route_is_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pipeline, "MANY_POINTS", 0)


@pytest.mark.parametrize(
    "make", first_quick([partial(ThreadPoolExecutor, 3), partial(Workers, 1), partial(Workers, 2)])
)
def test_any_executor_gives_the_same_bytes(
    make: Callable[[], Executor], folder: Path, alone: dict[str, bytes], tmp_path: Path
) -> None:
    with make() as executor:
        assert contents(folder, tmp_path / "out", executor) == alone


@pytest.mark.slow
def test_a_dask_cluster_gives_the_same_bytes(folder: Path, alone: dict[str, bytes], tmp_path: Path) -> None:
    with (
        LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None,
            silence_logs=50,
        ) as cluster,
        cluster_executor(cluster.scheduler_address) as executor,
    ):  # fmt: skip
        assert contents(folder, tmp_path / "out", executor) == alone


def test_a_pool_that_broke_costs_nothing(folder: Path, alone: dict[str, bytes], tmp_path: Path) -> None:
    with Workers(1) as executor:
        with pytest.raises(BrokenExecutor):
            executor.submit(_die).result()
        assert contents(folder, tmp_path / "out", executor) == alone


def _die() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def _square_or_die(number: int, home: int) -> int:
    if number == 3 and os.getpid() != home:
        _die()
    return number**2


def test_a_worker_that_dies_at_work_has_its_jobs_done_here() -> None:
    jobs = [partial(_square_or_die, number, os.getpid()) for number in range(20)]
    with Workers(1) as executor:
        assert list(in_order(executor, jobs, each=50)) == [number**2 for number in range(20)]


def _where(home: int) -> bool:
    return os.getpid() == home


def test_an_errand_is_run_here_once_while_the_workers_have_jobs() -> None:
    seen: list[str] = []
    with Workers(1) as executor:
        executor.errand = partial(seen.append, "errand")
        jobs = [partial(_where, os.getpid()) for _ in range(12)]
        here = list(in_order(executor, jobs, at_first=12))
        assert seen == ["errand"]
        assert not any(here)  # all were given away before the errand
        assert len(list(in_order(executor, jobs))) == 12
    assert seen == ["errand"]
