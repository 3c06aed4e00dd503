"""The archive on real executors: processes, a Dask cluster that loses a worker, a run that is killed."""

from __future__ import annotations

import os
import signal
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path

import pytest
from distributed import LocalCluster

from trackspread.archive.folders import route_folders
from trackspread.archive.run import MARK, Job, analyse_archive, analyse_one
from trackspread.errors import BadOption, FolderRefused
from trackspread.options import Options
from trackspread.system.cluster import cluster_executor

ROUTES = 4  # of the fixture `root`


def _die_once(job: Job, flag: str):
    """Kill the own process the first time, as a machine that runs out of memory does."""
    if not os.path.exists(flag):
        open(flag, "w").close()
        os.kill(os.getpid(), signal.SIGKILL)
    return analyse_one(job)


class _Deadly:
    """An executor that sends its first job through `_die_once`."""

    def __init__(self, inner, flag: str) -> None:
        self.inner, self.flag = inner, flag

    def __enter__(self):
        return self

    def __exit__(self, *_: object) -> None:
        self.inner.shutdown()

    def submit(self, work, job: Job):
        assert work is analyse_one
        return self.inner.submit(_die_once, job, self.flag)


def _check(outcomes, folder: Path, state: str = "done") -> None:
    assert [o.state for o in outcomes] == ["failed"] + [state] * ROUTES
    assert "no file held a usable trace" in outcomes[0].reason
    for outcome in outcomes[1:]:
        assert (folder / outcome.name / "report.html").is_file()
        assert outcome.rows[0]["traces"] == 3
    assert not list(folder.rglob("*.part"))


def test_folders_with_traces_are_routes(root: Path) -> None:
    names = [str(folder.relative_to(root)) for folder in route_folders(root)]
    assert names == [
        "broken",
        "district 0/route 0",
        "district 0/route 2",
        "district 1/route 1",
        "district 1/route 3",
    ]


@pytest.mark.slow
def test_a_killed_worker_costs_nothing(root: Path, tmp_path: Path) -> None:
    flag, folder = str(tmp_path / "died"), tmp_path / "out"
    context = get_context("spawn")
    outcomes = analyse_archive(
        root, folder, executor=lambda: _Deadly(ProcessPoolExecutor(2, mp_context=context), flag)
    )
    assert os.path.exists(flag)
    _check(outcomes, folder)


def test_finished_routes_are_not_done_again(root: Path, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    _check(analyse_archive(root, folder), folder)
    before = {path: path.stat().st_mtime_ns for path in folder.rglob("result.json")}
    _check(analyse_archive(root, folder), folder, "known")
    assert before == {path: path.stat().st_mtime_ns for path in folder.rglob("result.json")}
    changed = sorted(folder.rglob("result.json"))[0]
    changed.write_text(changed.read_text("utf-8").replace('"coordinates"', '"places"'), "utf-8")
    mark = sorted(folder.rglob(MARK))[-1]
    mark.write_text(mark.read_text("utf-8").replace("spread_m", "spread"), "utf-8")
    again = analyse_archive(root, folder)
    assert [o.state for o in again].count("done") == 2, "what was changed is done again"
    other = analyse_archive(root, folder, replace(Options(), segment_m=50.0))
    assert [o.state for o in other] == ["failed"] + ["done"] * ROUTES


@pytest.mark.slow
def test_a_dask_cluster_that_loses_a_worker(root: Path, tmp_path: Path) -> None:
    flag, folder = str(tmp_path / "died"), tmp_path / "out"
    with LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=True,
        host="127.0.0.1",
        dashboard_address=None,
        silence_logs=50,
    ) as cluster:
        outcomes = analyse_archive(
            root, folder, executor=lambda: _Deadly(cluster_executor(cluster.scheduler_address), flag)
        )
    assert os.path.exists(flag)
    _check(outcomes, folder)


def test_results_among_traces_are_refused(root: Path, tmp_path: Path) -> None:
    with pytest.raises(FolderRefused, match="must not lie among the traces"):
        analyse_archive(root, root / "out")
    with pytest.raises(FolderRefused, match="no folder below it holds traces"):
        analyse_archive(tmp_path, tmp_path.parent / "elsewhere")


def test_files_and_links_that_lead_nowhere_are_no_place_for_results(root: Path, tmp_path: Path) -> None:
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    (tmp_path / "dangling").symlink_to(tmp_path / "absent")
    (tmp_path / "file").touch()
    for name in ("loop", "dangling", "file"):
        with pytest.raises(FolderRefused, match=r"no such place|leads nowhere|this is a file"):
            analyse_archive(root, tmp_path / name)
    assert not (tmp_path / "absent").exists()


def test_nobody_at_the_scheduler() -> None:
    with pytest.raises(BadOption, match="nobody answers"):
        cluster_executor("tcp://127.0.0.1:9")
