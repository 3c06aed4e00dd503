"""Files that vanish, grow, shrink or change while they are read cost themselves at most."""

from __future__ import annotations

import gzip
import os
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from corpus.blocks import GOOD, gpx, points, saved, track, zipped
from trackspread.readers import read_files


def read_while(folder: Path, change: Callable[[], object]) -> tuple[dict[str, int], list[str]]:
    """Read a folder, and do something after its first file; return points by file, and problems."""
    done: list[object] = []

    def tell(phase: str, share: float) -> None:
        if share > 0.0 and not done:
            done.append(change())

    read = read_files([folder], progress=tell)
    points_of = {Path(file.name).name: sum(len(t.lon_deg) for t in file.traces) for file in read.files}
    return points_of, [str(problem) for problem in read.problems]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "in"
    folder.mkdir()
    for name in ("a.gpx", "b.gpx", "c.gpx"):
        saved(folder, GOOD, name)
    return folder


def test_a_file_that_vanishes(folder: Path) -> None:
    found, problems = read_while(folder, (folder / "b.gpx").unlink)
    assert found == {"a.gpx": 10, "b.gpx": 0, "c.gpx": 10}
    assert problems == [
        f"{folder}/b.gpx: the file cannot be read: No such file or directory; look at its rights, or copy it again"
    ]


def test_a_file_that_becomes_a_folder(folder: Path) -> None:
    def change() -> None:
        (folder / "b.gpx").unlink()
        (folder / "b.gpx").mkdir()

    found, problems = read_while(folder, change)
    assert found == {"a.gpx": 10, "b.gpx": 0, "c.gpx": 10}
    assert problems == [
        f"{folder}/b.gpx: the file cannot be read: this is not a regular file; look at its rights, or copy it again"
    ]


def test_a_file_that_becomes_a_pipe_does_not_hang(folder: Path) -> None:
    def change() -> None:
        (folder / "b.gpx").unlink()
        os.mkfifo(folder / "b.gpx")

    found, problems = read_while(folder, change)
    assert found == {"a.gpx": 10, "b.gpx": 0, "c.gpx": 10}
    assert problems == [
        f"{folder}/b.gpx: the file cannot be read: this is not a regular file; look at its rights, or copy it again"
    ]


def test_a_file_that_shrinks_or_is_still_being_written(folder: Path) -> None:
    half = GOOD[: GOOD.rindex("<trkpt")]
    found, problems = read_while(folder, lambda: (folder / "b.gpx").write_text(half))
    assert found == {"a.gpx": 10, "b.gpx": 9, "c.gpx": 10}
    assert problems == []


def test_a_file_that_becomes_too_large(folder: Path) -> None:
    def change() -> None:
        with (folder / "b.gpx").open("r+b") as file:
            file.truncate(400 * 2**20)  # a hole: it takes no room

    found, problems = read_while(folder, change)
    assert found == {"a.gpx": 10, "b.gpx": 0, "c.gpx": 10}
    assert problems == [
        f"{folder}/b.gpx: the file cannot be read: it holds more than 100 MiB; look at its rights, or copy it again"
    ]


def test_an_archive_that_is_written_again_or_vanishes(folder: Path) -> None:
    zipped(folder, {"x.gpx": GOOD, "y.gpx": GOOD}, "b.zip")
    zipped(folder, {"z.gpx": GOOD}, "d.zip")

    def change() -> None:
        zipped(folder, {"other.gpx": gpx(track(points(0, 3)))}, "b.zip")
        (folder / "d.zip").unlink()

    found, problems = read_while(folder, change)
    assert found == {"a.gpx": 10, "b.gpx": 10, "x.gpx": 0, "y.gpx": 0, "c.gpx": 10, "z.gpx": 0}
    assert len(problems) == 3
    assert (
        problems[2]
        == f"{folder}/d.zip/z.gpx: the file cannot be read: No such file or directory; look at its rights, or copy it again"
    )


def test_a_file_that_grows_all_the_time(folder: Path) -> None:
    """Whatever moment is caught, the points that stand there come through, and the others' too."""
    stop = threading.Event()

    def grow() -> None:
        with (folder / "b.gpx").open("a") as file:
            while not stop.is_set():
                file.write("<!-- and on -->" * 100)
                file.flush()
                time.sleep(0.001)

    writer = threading.Thread(target=grow)
    writer.start()
    try:
        for _ in range(20):
            read = read_files([folder])
            assert [sum(len(t.lon_deg) for t in file.traces) for file in read.files] == [10, 10, 10]
    finally:
        stop.set()
        writer.join()


def test_a_packed_file_that_is_exchanged(folder: Path) -> None:
    saved(folder, gzip.compress(GOOD.encode()), "d.gpx.gz")
    found, problems = read_while(folder, lambda: (folder / "d.gpx.gz").write_bytes(b"\x1f\x8b\x08rubbish"))
    assert found == {"a.gpx": 10, "b.gpx": 10, "c.gpx": 10, "d.gpx.gz": 0}
    assert len(problems) == 1
    assert problems[0].startswith(f"{folder}/d.gpx.gz: the file cannot be read: ")
