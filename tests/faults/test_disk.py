"""Full disks, folders that cannot be written to, folders that go away: words, nothing half, nothing lost (Linux)."""

from __future__ import annotations

import os
import resource
import shutil
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from faults.children import Place, sizes, tree
from records import make_analysis
from thinly import first_quick
from trackspread.errors import FolderRefused
from trackspread.report.write import write_all

ANALYSE = ["analyse", "in", "--out", "out", "--quiet"]


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Place:
    """Traces and an earlier result of them, in ``out``."""
    place = Place.made(tmp_path_factory.mktemp("place"))
    assert place.run(ANALYSE).returncode == 0
    (place.folder / "out" / "notes.txt").write_text("mine")
    return place


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """An empty mount point; what is mounted there is taken away at the end."""
    target = tmp_path / "disk"
    target.mkdir()
    yield target
    if os.path.ismount(target):
        subprocess.run(["umount", str(target)], check=True)


def mount(target: Path, kilobytes: int, more: str = "") -> None:
    command = ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k{more}", "tmpfs", str(target)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        pytest.skip(f"no disk can be mounted here: {done.stderr.strip()}")


def one_line(said: str, *words: str) -> None:
    assert said.count("\n") == 1, said
    assert said.startswith("trackspread: ")
    assert "Traceback" not in said
    assert all(word in said for word in words), said


@pytest.mark.parametrize("kilobytes", first_quick([16, 64, 200, 500, 800]))
def test_a_full_disk(place: Place, disk: Path, kilobytes: int) -> None:
    mount(disk, kilobytes)
    done = place.run([*ANALYSE[:3], str(disk / "out"), "--quiet"])
    assert done.returncode == 2
    one_line(done.stderr, "out: the results cannot be written: No space left on device")
    assert list(disk.iterdir()) == []


@pytest.mark.slow
def test_a_disk_too_full_for_a_second_result(place: Place, disk: Path) -> None:
    """The first one fits, and stands whole."""
    mount(disk, 1400)
    target = disk / "out"
    assert place.run([*ANALYSE[:3], str(target), "--quiet"]).returncode == 0
    before = tree(target)
    done = place.run([*ANALYSE[:3], str(target), "--quiet", "--segment", "50"])
    one_line(done.stderr, "No space left on device", "nothing in it was changed")
    assert tree(target) == before
    assert list(disk.iterdir()) == [target]


@pytest.mark.parametrize("kilobytes", [16, 64, 200, 260, 300, 600])
@pytest.mark.slow
def test_a_full_temporary_folder(place: Place, disk: Path, tmp_path: Path, kilobytes: int) -> None:
    """Refused, or the layers are whole."""
    mount(disk, kilobytes)
    target = tmp_path / "out"
    environment = place.environment() | {"TMPDIR": str(disk)}
    done = place.run([*ANALYSE[:3], str(target), "--quiet"], env=environment)
    if done.returncode == 0:
        with sqlite3.connect(target / "layers.gpkg") as layers:
            assert layers.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert layers.execute("SELECT count(*) FROM traces").fetchone() == (3,)
        layers.close()
    else:
        one_line(done.stderr, f"{disk}: layers.gpkg is made here first", "TMPDIR")
        assert not target.exists()
    assert list(disk.iterdir()) == []


@pytest.mark.parametrize("largest", [1_000, 20_000, 100_000, 230_000, 300_000])
@pytest.mark.slow
def test_files_may_not_grow(place: Place, largest: int) -> None:
    """A limit of the system on the size of files, as under a quota."""
    before = tree(place.folder / "out")

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (largest, largest))

    done = place.run([*ANALYSE, "--no-cache"], preexec_fn=limit)
    assert done.returncode == 2
    one_line(done.stderr)
    assert tree(place.folder / "out") == before
    assert place.strays() == []


@pytest.mark.slow
def test_a_disk_of_its_own(place: Place, disk: Path) -> None:
    """A folder that is a mount point cannot be exchanged, nor filled from beside; it is written to all the same."""
    mount(disk, 20_000)
    for more in ([], ["--segment", "50"]):
        assert place.run([*ANALYSE[:3], str(disk), "--quiet", *more]).returncode == 0
        (disk / "notes.txt").write_text("mine")
        assert place.run(["film", str(disk), "--size", "1080", "--quiet"]).returncode == 0
    assert (disk / "notes.txt").read_text() == "mine"
    assert not [path for path in disk.iterdir() if path.name.startswith(".")]
    assert sizes(disk).keys() > sizes(place.folder / "out").keys()


@pytest.mark.slow
def test_a_disk_that_can_only_be_read(place: Place, disk: Path) -> None:
    mount(disk, 20_000)
    shutil.copytree(place.folder / "out", disk / "out")
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
    before = tree(disk)
    result = str(disk / "out")
    for arguments in (
        [*ANALYSE[:3], result, "--quiet"], [*ANALYSE[:3], str(disk / "new"), "--quiet"],
        ["film", result, "--size", "1080", "--quiet"], ["archive", ".", "--out", str(disk / "all"), "--quiet"],
        ["plan", result, "--csv", str(disk / "plan.csv")], ["rank", result, "--csv", str(disk / "rank.csv")],
        ["init", str(disk)],
    ):  # fmt: skip
        done = place.run(arguments)
        assert done.returncode in (1, 2), arguments
        assert "Traceback" not in done.stderr
        assert done.stderr.strip(), arguments
    assert tree(disk) == before


@pytest.mark.slow
def test_somebody_without_rights(tmp_path: Path) -> None:
    """What may not be written to, and traces that may not be read, are told by name."""
    before = ["setpriv", "--bounding-set=-dac_override,-dac_read_search"] if os.geteuid() == 0 else []
    if before and shutil.which("setpriv") is None:
        pytest.skip("root may do everything here, and no setpriv takes that right away")
    place = Place.made(tmp_path)
    (tmp_path / "in" / "secret.gpx").write_text("<gpx/>")
    (tmp_path / "in" / "secret.gpx").chmod(0)
    (tmp_path / "in" / "locked").mkdir(mode=0)
    (tmp_path / "closed").mkdir(mode=0o555)
    done = place.run([*ANALYSE[:3], "closed/out", "--quiet"], before=before)
    assert done.returncode == 2
    one_line(done.stderr, "out: nothing can be written to", "name a folder of your own")
    done = place.run(ANALYSE, before=before)
    assert done.returncode == 1, done.stderr
    assert "in/secret.gpx: the file cannot be read: Permission denied" in done.stderr
    assert "in/locked: the folder cannot be read: Permission denied" in done.stderr
    result = tmp_path / "out"
    whole = tree(result)
    result.chmod(0o555)
    done = place.run(ANALYSE, before=before)
    assert done.returncode == 2
    one_line(done.stderr, "nothing can be written to")
    result.chmod(0o755)
    tmp_path.chmod(0o555)  # a folder of one's own in one that is not
    assert place.run(ANALYSE, before=before).returncode == 1
    tmp_path.chmod(0o755)
    assert tree(result).keys() == whole.keys()
    assert place.strays() == []
    (tmp_path / "in" / "locked").chmod(0o755)


@pytest.mark.parametrize("lost", ["out", ""])
def test_the_folder_goes_away_while_it_is_filled(tmp_path: Path, lost: str) -> None:
    """The folder alone is made anew; where its parent goes too, there are words."""
    parent = tmp_path / "parent"
    write_all(make_analysis(routes=1, traces=3), parent / "out")

    gone: list[float] = []

    def away(phase: str, share: float) -> None:
        if share > 0.2 and not gone:
            gone.append(share)
            shutil.rmtree(parent / lost)

    if lost:
        write_all(make_analysis(routes=1, traces=3), parent / "out", progress=away)
        assert (parent / "out" / "report.html").is_file()
        assert os.listdir(parent) == ["out"]
    else:
        with pytest.raises(FolderRefused, match="out: the results cannot be written: No such file"):
            write_all(make_analysis(routes=1, traces=3), parent / "out", progress=away)
        assert os.listdir(tmp_path) == []


@pytest.mark.slow
def test_two_runs_into_one_folder(place: Place) -> None:
    """Both end well, one result stands, and nothing else is left."""
    done: list[subprocess.CompletedProcess[str]] = []
    runs = [
        threading.Thread(target=lambda more=more: done.append(place.run([*ANALYSE, *more])))
        for more in ([], ["--segment", "50"], ["--segment", "25"])
    ]
    for run in runs:
        run.start()
    for run in runs:
        run.join()
    assert [each.returncode for each in done] == [0, 0, 0]
    assert place.strays() == []
    segments = {
        sizes(place.folder / "out")["tables/segments.csv"],
    }
    wholes = []
    for more in ([], ["--segment", "50"], ["--segment", "25"]):
        assert place.run([*ANALYSE, *more]).returncode == 0
        wholes.append(sizes(place.folder / "out"))
    assert segments <= {whole["tables/segments.csv"] for whole in wholes}
    assert (place.folder / "out" / "notes.txt").read_text() == "mine"


@pytest.mark.slow
def test_a_cache_that_is_full(place: Place, disk: Path) -> None:
    mount(disk, 8)
    done = place.run(ANALYSE, env=place.environment() | {"TRACKSPREAD_CACHE": str(disk)})
    assert (done.returncode, done.stderr) == (0, "")
    assert not [path for path in disk.iterdir() if path.suffix == ".part"]


@pytest.mark.slow
def test_a_cache_that_is_no_folder_or_holds_rubbish(place: Place, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    (tmp_path / "cache").mkdir()
    environment = place.environment() | {"TRACKSPREAD_CACHE": str(tmp_path / "cache")}
    assert place.run(ANALYSE, env=environment).returncode == 0
    entries = sorted((tmp_path / "cache").iterdir())
    assert len(entries) >= 3  # the files, and the steps of each route
    for i, entry in enumerate(entries):
        if i % 3 == 0:
            entry.write_bytes(b"rubbish")
        elif i % 3 == 1:
            entry.write_bytes(entry.read_bytes()[:-100])
        else:
            entry.unlink()
            entry.mkdir()
    whole = sizes(place.folder / "out")
    for folder in ("cache", "file"):
        done = place.run(ANALYSE, env=environment | {"TRACKSPREAD_CACHE": str(tmp_path / folder)})
        assert (done.returncode, done.stderr) == (0, "")
        assert sizes(place.folder / "out") == whole


@pytest.mark.slow
def test_a_reader_of_what_is_printed_goes_away(place: Place) -> None:
    """``trackspread … | head`` ends without a word."""
    command = f"{sys.executable} -m trackspread analyse in --out out | head -c 1"
    done = subprocess.run(
        ["sh", "-c", command], cwd=place.folder, env=place.environment(), capture_output=True, check=False
    )  # fmt: skip
    assert done.stderr == b""


@pytest.mark.slow
def test_no_room_for_what_is_printed(place: Place) -> None:
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "trackspread", *ANALYSE[:4]], cwd=place.folder, env=place.environment(),
            stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert "Traceback" not in done.stderr
    assert done.returncode == 2
    assert "No space left on device" in done.stderr
