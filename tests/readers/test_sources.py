"""Where traces come from: order, each file once, bounds of archives, rights, workers."""

from __future__ import annotations

import os
import pickle
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from corpus.blocks import GOOD, saved, zipped
from trackspread.errors import Cancelled
from trackspread.readers import parse, read_files
from trackspread.readers.sources import Sources


def names(*paths: Path | str) -> list[str]:
    return [file.name for file in read_files(paths).files if file.traces]


def filled(folder: Path, *members: str) -> Path:
    for member in members:
        (folder / member).parent.mkdir(parents=True, exist_ok=True)
        (folder / member).write_text(GOOD)
    return folder


def test_folders_are_walked_in_a_fixed_order(tmp_path: Path) -> None:
    filled(tmp_path, "b/z.gpx", "b/a.gpx", "a/z.gpx", "c.gpx", ".git/x.gpx", "b/.x.gpx")
    assert names(tmp_path) == [str(tmp_path / name) for name in ("c.gpx", "a/z.gpx", "b/a.gpx", "b/z.gpx")]


def test_what_a_file_holds_is_known_before_it_is_opened_but_for_packed_ones(tmp_path: Path) -> None:
    filled(tmp_path, "a.gpx", "b.gpx.gz")
    with zipfile.ZipFile(tmp_path / "c.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("d.gpx", GOOD)
    with Sources() as sources:
        sizes = {os.path.basename(source.path): source.size for source in sources.find([tmp_path])}
    assert sizes == {"a.gpx": len(GOOD), "b.gpx.gz": float("inf"), "d.gpx": len(GOOD)}


def test_each_file_is_read_once_however_it_is_named(tmp_path: Path) -> None:
    filled(tmp_path, "a.gpx", "b.gpx")
    (tmp_path / "c.gpx").symlink_to(tmp_path / "a.gpx")
    assert len(names(tmp_path, tmp_path / "a.gpx", f"{tmp_path}/*.gpx")) == 2


def test_globs(tmp_path: Path) -> None:
    filled(tmp_path, "sedge/a.gpx", "moss/a.gpx", "moss/b.kml")
    assert names(f"{tmp_path}/*/a.gpx") == [f"{tmp_path}/moss/a.gpx", f"{tmp_path}/sedge/a.gpx"]
    assert len(names(f"{tmp_path}/**/a.gpx")) == 2
    (problem,) = read_files([f"{tmp_path}/*.fit"]).problems
    assert "there is no such file or folder" in str(problem)


@pytest.mark.parametrize(
    ("paths", "below"),
    [
        ("{}", {"sedge/out": ("sedge", "out"), "moss": ("moss",)}),
        ("{}/*/*.gpx {}/sedge/out/a.gpx", {"sedge/out": ("sedge", "out"), "moss": ("moss",)}),
        ("{}/sedge {}/moss", {"sedge/out": ("sedge", "out"), "moss": ("moss",)}),
        ("{}/sedge", {"sedge/out": ("out",)}),
        ("{}/moss/a.gpx", {"moss": ()}),
    ],
)
def test_folders_between_what_was_named_and_the_file(
    tmp_path: Path, paths: str, below: dict[str, tuple[str, ...]]
) -> None:
    filled(tmp_path, "sedge/out/a.gpx", "moss/a.gpx")
    read = read_files(paths.replace("{}", str(tmp_path)).split())
    assert {os.path.relpath(os.path.dirname(f.path), tmp_path): f.below for f in read.files} == below


def test_members_of_archives_bear_names_that_are_only_shown(tmp_path: Path) -> None:
    archive = zipped(tmp_path, {"../../../evil.gpx": GOOD, "sedge/a.gpx": GOOD, "__MACOSX/a.gpx": GOOD})
    assert names(archive) == [f"{archive}/evil.gpx", f"{archive}/sedge/a.gpx"]
    assert [path.name for path in tmp_path.iterdir()] == ["a.zip"]
    assert not (tmp_path.parent.parent / "evil.gpx").exists()


def test_an_archive_that_lies_about_its_sizes_is_read_within_bounds(tmp_path: Path) -> None:
    """The size in the directory is rewritten to 10 bytes; what is unpacked is bounded by it."""
    archive = zipped(tmp_path, {"a.gpx": GOOD})
    data = bytearray(archive.read_bytes())
    entry = data.index(b"PK\x01\x02")
    data[entry + 24 : entry + 28] = (10).to_bytes(4, "little")
    archive.write_bytes(bytes(data))
    read = read_files([archive])
    assert read.traces == ()
    assert len(read.problems) == 1


def test_a_locked_archive_costs_its_members_only(tmp_path: Path) -> None:
    archive = zipped(tmp_path, {"a.gpx": GOOD})
    data = bytearray(archive.read_bytes())
    for mark, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        data[data.index(mark) + place] |= 1
    archive.write_bytes(bytes(data))
    saved(tmp_path, GOOD, "b.gpx")
    read = read_files([tmp_path])
    assert len(read.traces) == 1
    assert "locked with a password" in str(read.problems[0])


def test_too_many_members_are_refused(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "many.zip", "w") as archive:
        for i in range(20_001):
            archive.writestr(f"{i}.txt", "")
    (problem,) = read_files([tmp_path / "many.zip"]).problems
    assert "an archive may hold 20000 members" in str(problem)


def test_a_folder_of_anything_is_not_walked_to_its_end(tmp_path: Path) -> None:
    (tmp_path / "home").mkdir()
    for i in range(20_001):
        (tmp_path / "home" / f"{i}.txt").touch()
    filled(tmp_path, "rides/a.gpx")
    read = read_files([tmp_path / "home", tmp_path / "rides"])
    assert len(read.traces) == 1
    assert "a folder may hold 20000 files" in str(read.problems[0])


@pytest.fixture
def other_user() -> Iterator[Path]:
    """A folder that all may enter, while this process has no rights beyond its own."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    before = os.geteuid()
    yield folder
    os.seteuid(before)
    shutil.rmtree(folder)


def test_files_and_folders_without_rights_cost_themselves(other_user: Path) -> None:
    filled(other_user, "a.gpx", "locked.gpx", "locked/b.gpx")
    (other_user / "locked.gpx").chmod(0)
    (other_user / "locked").chmod(0)
    if os.geteuid() == 0:
        os.seteuid(65_534)
    read = read_files([other_user])
    assert len(read.traces) == 1
    assert sorted(str(problem).partition(": ")[2] for problem in read.problems) == [
        "the file cannot be read: Permission denied; look at its rights, or copy it again",
        "the folder cannot be read: Permission denied; look at its rights, or copy it again",
    ]


@pytest.mark.skipif(not Path("/proc/1/cwd").parent.exists(), reason="there is no /proc")
def test_a_link_that_may_not_be_followed_costs_itself(other_user: Path) -> None:
    filled(other_user, "a.gpx")
    (other_user / "b.gpx").symlink_to("/proc/1/cwd")
    if os.geteuid() == 0:
        os.seteuid(65_534)
    read = read_files([other_user])
    assert len(read.traces) == 1
    assert "b.gpx: the file cannot be read: Permission denied" in str(read.problems[0])


def test_workers_and_other_engines_give_the_same(tmp_path: Path) -> None:
    filled(tmp_path, *(f"{i}.gpx" for i in range(5)))
    saved(tmp_path, "<html/>", "bad.gpx")
    alone = read_files([tmp_path])
    with ThreadPoolExecutor(2) as threads:
        for other in (read_files([tmp_path], workers=2), read_files([tmp_path], executor=threads)):
            assert [f.name for f in other.files] == [f.name for f in alone.files]
            assert other.problems == alone.problems
            for a, b in zip(other.traces, alone.traces, strict=True):
                np.testing.assert_array_equal(a.time_s, b.time_s)
                np.testing.assert_array_equal(a.lon_deg, b.lon_deg)


def test_parse_can_be_sent_to_another_process() -> None:
    traces, problems = pickle.loads(pickle.dumps(parse))("a.gpx", GOOD.encode(), True)
    assert (len(pickle.loads(pickle.dumps(traces))), problems) == (1, [])


def test_progress_is_told_and_can_stop_the_reading(tmp_path: Path) -> None:
    filled(tmp_path, "a.gpx", "b.gpx")
    told: list[float] = []
    read_files([tmp_path], progress=lambda phase, share: told.append(share))
    assert told == [0.0, 0.5, 1.0]

    def stop(phase: str, share: float) -> None:
        if share > 0.0:
            raise Cancelled("stopped")

    with pytest.raises(Cancelled):
        read_files([tmp_path], progress=stop)
