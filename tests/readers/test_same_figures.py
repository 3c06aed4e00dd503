"""One invented world written as GPX, FIT and TCX gives the same figures, from one flat folder, and in time."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest

from trackspread import analyse
from trackspread.model import Analysis
from world import Receiver, World, simulate
from world.activity_files import fit_bytes, tcx_text
from world.files import gpx_text
from world.routes import rounded

WATCHES = ("sedge", "moss", "fern")
CORNERS = np.array([(0, 0), (500, 60), (700, 420), (1250, 300), (1500, 700)], dtype=float)


@pytest.fixture(scope="module")
def world() -> World:
    return simulate(
        rounded(CORNERS, np.full(len(CORNERS), 40.0)), seed=20310708, rides=4,
        receivers=tuple(Receiver(name=name, sigma_m=2.0) for name in WATCHES),
        file_names="{ride}_{receiver}.gpx",
    )  # fmt: skip


@pytest.fixture(scope="module")
def written(world: World, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folders = {kind: tmp_path_factory.mktemp(kind) for kind in ("gpx", "fit", "tcx")}
    for number, recording in enumerate(world.recordings):
        (folders["gpx"] / recording.file).write_text(gpx_text(recording))
        (folders["fit"] / f"{number:03d}.fit").write_bytes(fit_bytes(recording))
        (folders["tcx"] / f"{number:03d}.tcx").write_text(tcx_text(recording))
    return folders


@pytest.fixture(scope="module")
def analyses(written: dict[str, Path]) -> dict[str, Analysis]:
    return {kind: analyse(folder) for kind, folder in written.items()}


@pytest.mark.parametrize("kind", ["fit", "tcx"])
def test_length_and_spread_are_the_same(analyses: dict[str, Analysis], kind: str) -> None:
    (gpx,), (other,) = analyses["gpx"].routes, analyses[kind].routes
    assert abs(other.length_m - gpx.length_m) < 0.5
    assert abs(other.spread.value / gpx.spread.value - 1.0) < 0.01


@pytest.mark.parametrize("kind", ["fit", "tcx"])
def test_first_fixes_are_right_to_the_second_without_a_note(
    analyses: dict[str, Analysis], world: World, kind: str
) -> None:
    (route,) = analyses[kind].routes
    told = sorted(
        (trace.time_s[0], trace.first_fix.value_s, trace.first_fix.source) for trace in route.traces
    )
    true = sorted((r.time_s[0], r.time_s[0] - r.start_s) for r in world.recordings)
    for (_, value_s, source), (_, true_s) in zip(told, true, strict=True):
        assert source == "timer"
        assert abs(value_s - true_s) <= 1.0


@pytest.mark.parametrize("kind", ["gpx", "fit", "tcx"])
def test_a_flat_folder_is_compared_watch_by_watch_without_a_table(
    analyses: dict[str, Analysis], kind: str
) -> None:
    """GPX: by the word in the file names; FIT and TCX: by the device, whatever the files are called."""
    compared = analyses[kind].comparison
    assert compared is not None
    assert {one.receiver for one in compared.receivers} == set(WATCHES)
    assert {one.rides for one in compared.receivers} == {4}
    assert {record.receiver_from for record in analyses[kind].inputs} == {
        "pattern" if kind == "gpx" else "file"
    }


@pytest.mark.slow
def test_fit_takes_at_most_five_times_as_long_as_gpx(written: dict[str, Path]) -> None:
    took = {}
    for kind in ("gpx", "fit"):
        analyse(written[kind])
        began_s = time.process_time()
        analyse(written[kind])
        took[kind] = time.process_time() - began_s
    assert took["fit"] <= 5.0 * took["gpx"]
