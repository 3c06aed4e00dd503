"""The command in odd surroundings: a line and an exit code, never a traceback, nothing foreign replaced."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from thinly import first_quick
from world import simulate

RUN = [sys.executable, "-m", "trackspread"]


@pytest.fixture(scope="module")
def rides(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("rides")
    simulate("winding", seed=5, rides=3, length_m=700.0).write_gpx(folder / "in")
    return folder


def run(rides: Path, arguments: Sequence[object], **more: object) -> subprocess.CompletedProcess[str]:
    given: dict[str, object] = {"capture_output": True, "text": True, "errors": "replace", "timeout": 60}
    command = [*RUN, *map(str, arguments)]
    return subprocess.run(command, cwd=rides, check=False, **(given | more))  # type: ignore[call-overload,no-any-return]


def analyse(rides: Path, out: Path, *more: object) -> list[object]:
    return ["analyse", rides / "in", "--out", out, "--no-cache", *more]


@pytest.mark.parametrize(
    "environment",
    first_quick(
        [
            {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
            {"PYTHONIOENCODING": "ascii"},
            {"PYTHONIOENCODING": "ascii:strict"},
            {"PYTHONIOENCODING": "utf-16"},
        ]
    ),
    ids=lambda environment: " ".join(f"{k}={v}" for k, v in environment.items()),
)
def test_another_encoding_costs_letters_only(
    rides: Path, tmp_path: Path, environment: dict[str, str]
) -> None:
    done = run(rides, analyse(rides, tmp_path / "äöü"), env=os.environ | environment)
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr
    assert (tmp_path / "äöü" / "report.html").is_file()


@pytest.mark.parametrize(
    "closed",
    first_quick(["<&-", ">&-", "2>&-", "<&- >&- 2>&-", ">/dev/full", "2>/dev/full", ">/dev/full 2>&1"]),
)
def test_closed_and_full_streams_cost_words_only(rides: Path, tmp_path: Path, closed: str) -> None:
    command = f'"$0" -m trackspread analyse in --out "$1" --no-cache {closed}'
    done = subprocess.run(
        ["bash", "-c", command, sys.executable, str(tmp_path / "out")], cwd=rides, capture_output=True, text=True,
        timeout=60, check=False,
    )  # fmt: skip
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr
    assert done.returncode in (0, 2)
    assert (tmp_path / "out" / "report.html").read_text("utf-8").startswith("<!DOCTYPE html>")


def test_without_a_home_nothing_is_made_in_the_folder_of_the_run(rides: Path, tmp_path: Path) -> None:
    environment = {k: v for k, v in os.environ.items() if k not in ("HOME", "TRACKSPREAD_DATA")}
    command = f"""
import os, pwd, sys
def nobody(number): raise KeyError(number)
pwd.getpwuid = nobody
sys.argv = ["trackspread", "analyse", {str(rides / "in")!r}, "--out", "out", "--publish"]
from trackspread.__main__ import run
run()
"""
    done = subprocess.run(
        [sys.executable, "-c", command], cwd=tmp_path, env=environment, capture_output=True, text=True, timeout=60,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0 or "nothing is left to publish" in done.stderr
    assert "Traceback" not in done.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) in (["out"], [])


def test_a_loop_of_links_is_no_place(rides: Path, tmp_path: Path) -> None:
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    for place in (tmp_path / "loop", tmp_path / "loop" / "below"):
        done = run(rides, analyse(rides, place))
        assert done.returncode == 2
        assert done.stderr.count("\n") == 1
        assert "Traceback" not in done.stderr


@pytest.mark.parametrize("option", first_quick(["--rides", "--reference"]))
def test_a_pipe_is_refused_at_once(rides: Path, tmp_path: Path, option: str) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "zero").symlink_to("/dev/zero")
    for name in ("pipe", "zero"):
        done = run(rides, analyse(rides, tmp_path / "out", option, tmp_path / name), timeout=20)
        assert done.returncode == 2
        assert "not a regular file" in done.stderr


@pytest.mark.parametrize(
    "option", ["--power", "--confidence", "--ratio", "--independent-lengths", "--common", "--spread-known-to"]
)
@pytest.mark.parametrize("value", ["nan", "inf", "-nan"])
def test_plan_takes_no_number_that_is_none(rides: Path, option: str, value: str) -> None:
    done = run(rides, ["plan", option, value])
    assert done.returncode == 2
    assert "is not in the range" in done.stderr
    assert "Traceback" not in done.stderr


def test_overwrite_replaces_regular_files_only(rides: Path, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "link.csv").symlink_to(tmp_path / "kept.txt")
    (tmp_path / "kept.txt").write_text("mine")
    for name in ("pipe.csv", "link.csv"):
        done = run(rides, ["plan", "--csv", tmp_path / name, "--overwrite"])
        assert done.returncode == 2
        assert "is not replaced" in done.stderr
    assert (tmp_path / "kept.txt").read_text() == "mine"
    assert (tmp_path / "link.csv").is_symlink()


@pytest.mark.slow
def test_a_link_in_the_folder_of_results_is_kept(rides: Path, tmp_path: Path) -> None:
    assert run(rides, analyse(rides, tmp_path / "out")).returncode == 0
    (tmp_path / "out" / "map.html").unlink()
    (tmp_path / "out" / "map.html").symlink_to(tmp_path / "elsewhere.html")
    (tmp_path / "elsewhere.html").write_text("mine")
    done = run(rides, analyse(rides, tmp_path / "out"))
    assert done.returncode == 2
    assert "is not replaced" in done.stderr
    assert (tmp_path / "elsewhere.html").read_text() == "mine"


@pytest.mark.slow
def test_a_reference_with_a_number_of_thousands_of_digits_is_refused(rides: Path, tmp_path: Path) -> None:
    for digits in (400, 4000, 5000):
        (tmp_path / "line.geojson").write_text(
            '{"type": "LineString", "coordinates": [[%s, 1], [2, 3]]}' % ("9" * digits)
        )
        done = run(rides, analyse(rides, tmp_path / "out", "--reference", tmp_path / "line.geojson"))
        assert done.returncode == 2
        assert "Traceback" not in done.stderr


def test_a_time_that_cannot_be_costs_its_point_the_time(tmp_path: Path) -> None:
    rows = "".join(f"{1.9e9 + i},{69.4 + i * 1e-4},-48.9\n" for i in range(60))
    for name in ("a", "b"):
        (tmp_path / f"{name}.csv").write_text(
            f"time,lon,lat\n1e20,69.3999,-48.9\n1e30,69.39995,-48.9\n{rows}"
        )
    (tmp_path / "rides.csv").write_text("file,start_pressed\na.csv,2030-03-17T17:46:30Z\nb.csv,1e30\n")
    done = run(tmp_path, ["analyse", tmp_path, "--out", tmp_path / "out", "--no-cache"])
    assert "Traceback" not in done.stderr
    assert done.returncode in (1, 2)


def test_names_reach_the_terminal_without_control_codes(rides: Path, tmp_path: Path) -> None:
    place = tmp_path / "\x1b[31mred"
    done = run(rides, analyse(rides, place))
    assert done.returncode == 0
    assert "\x1b" not in done.stdout + done.stderr
    done = run(rides, ["plan", "--csv", tmp_path / "\x1b]0;title.csv"])
    assert "\x1b" not in done.stdout + done.stderr


@pytest.mark.slow
def test_an_archive_goes_on_past_links_that_lead_nowhere_and_odd_names(tmp_path: Path) -> None:
    for seed, name in ((1, b"one"), (2, b"tw\xff")):
        folder = tmp_path / "in" / os.fsdecode(name)
        simulate("winding", seed=seed, rides=2, length_m=700.0).write_gpx(folder)
        (folder / "gone.gpx").symlink_to(tmp_path / "nowhere")
    done = run(tmp_path, ["archive", tmp_path / "in", "--out", tmp_path / "out"])
    assert "Traceback" not in done.stderr
    assert "2 done" in done.stdout, done.stderr
