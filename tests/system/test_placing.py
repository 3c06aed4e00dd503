"""Files into their place: in one step, whole, others' kept, and nothing of killed runs left."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from trackspread.system import placing
from trackspread.system.placing import held, put, whole, workplace


def tree(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def replaced(folder: Path, files: dict[str, str], **more: object) -> None:
    with workplace(folder) as made:
        for name, text in files.items():
            (made / name).parent.mkdir(parents=True, exist_ok=True)
            (made / name).write_text(text)
        put(made, folder, **more)


@pytest.fixture(params=["in one step", "file by file"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Both ways of exchanging: the second is that of systems that cannot exchange two folders."""
    if request.param == "file by file":
        monkeypatch.setattr(placing, "_exchanged", lambda *_: False)
    return str(request.param)


def test_what_others_put_there_stays(tmp_path: Path, way: str) -> None:
    out = tmp_path / "out"
    replaced(out, {"a": "old", "sub/b": "old"})
    (out / "mine").write_text("mine")
    (out / "sub" / "mine too").write_text("mine")
    (out / "deep" / "er").mkdir(parents=True)
    (out / "deep" / "er" / "x").write_text("x")
    (out / "link").symlink_to("mine")
    (out / "nowhere").symlink_to(tmp_path / "nowhere")
    out.chmod(0o750)
    identity = (out / "mine").stat().st_ino
    replaced(out, {"a": "new", "sub/c": "new"})
    assert tree(out) == {
        "a": b"new", "sub/b": b"old", "sub/c": b"new", "mine": b"mine", "sub/mine too": b"mine", "deep/er/x": b"x",
        "link": b"mine",
    }  # fmt: skip
    assert (out / "link").is_symlink()
    assert os.readlink(out / "nowhere") == str(tmp_path / "nowhere")
    assert (out / "mine").stat().st_ino == identity
    assert out.stat().st_mode & 0o777 == 0o750
    assert os.listdir(tmp_path) == ["out"]


def test_files_of_an_earlier_run_give_way(tmp_path: Path, way: str) -> None:
    out = tmp_path / "out"
    replaced(out, {"stills/1.png": "old", "stills/2.png": "old", "page": "old"})
    (out / "stills" / "mine.jpg").write_text("mine")
    replaced(out, {"stills/1.png": "new"}, gone=lambda name: name.match("stills/*.png"))
    assert tree(out) == {"stills/1.png": b"new", "stills/mine.jpg": b"mine", "page": b"old"}


def test_a_new_folder_appears_in_one_step(tmp_path: Path) -> None:
    with workplace(tmp_path / "out") as made:
        (made / "a").write_text("a")
        assert not (tmp_path / "out").exists()
        assert put(made, tmp_path / "out") == [Path("a")]
    assert tree(tmp_path) == {"out/a": b"a"}


def test_an_existing_folder_is_never_seen_half_exchanged(tmp_path: Path) -> None:
    """Another process looks at it all the time: all files are of one run, always (Linux: renameat2)."""
    if not sys.platform.startswith("linux"):
        pytest.skip("only Linux exchanges two folders in one step")
    out, names = tmp_path / "out", [f"{n}.txt" for n in range(12)]
    replaced(out, dict.fromkeys(names, "0"))
    code = (
        "import os, sys\nseen = 0\n"
        "while not os.path.exists('stop'):\n"
        "    handle = os.open('out', os.O_RDONLY | os.O_DIRECTORY)\n"
        "    names = sorted(os.listdir(handle))\n"
        "    texts = set()\n"
        "    try:\n"
        "        for name in names:\n"
        "            with open(os.open(name, os.O_RDONLY, dir_fd=handle)) as file: texts.add(file.read())\n"
        "    except FileNotFoundError: names = []\n"  # the old folder is being cleared away
        "    os.close(handle)\n"
        "    if names: seen += 1; assert len(texts) == 1 and len(names) == 12, (names, texts)\n"
        "print(seen)"
    )
    watcher = subprocess.Popen([sys.executable, "-c", code], cwd=tmp_path, stdout=subprocess.PIPE, text=True)
    for run in range(1, 60):
        replaced(out, dict.fromkeys(names, str(run)))
    (tmp_path / "stop").touch()
    said, _ = watcher.communicate(timeout=60)
    assert watcher.returncode == 0
    assert int(said) > 10


def test_what_a_killed_run_left_is_cleared_by_the_next(tmp_path: Path) -> None:
    code = (
        "import os, signal, sys\nfrom pathlib import Path\nfrom trackspread.system.placing import workplace\n"
        "with workplace(Path('out')) as made:\n    (made / 'half').write_text('x')\n"
        "    os.kill(os.getpid(), signal.SIGKILL)"
    )
    subprocess.run([sys.executable, "-c", code], cwd=tmp_path, check=False)
    assert len(list(tmp_path.glob(".out.*.part"))) == 1
    replaced(tmp_path / "out", {"a": "a"})
    assert os.listdir(tmp_path) == ["out"]


def test_what_is_not_locked_yet_is_left_alone_for_a_day(tmp_path: Path) -> None:
    new, old = (tmp_path / f".out.{digits * 8}.born" for digits in "ab")
    new.mkdir()
    old.mkdir()
    os.utime(old, (time.time() - 90_000, time.time() - 90_000))
    replaced(tmp_path / "out", {"a": "a"})
    assert sorted(os.listdir(tmp_path)) == [new.name, "out"]


def test_what_a_running_one_holds_is_left_alone(tmp_path: Path) -> None:
    with held(tmp_path, "out") as other:
        os.utime(other, (0, 0))
        with held(tmp_path, "out"):
            assert other.is_dir()
    assert list(tmp_path.iterdir()) == []


def test_folders_of_others_with_like_names_are_left_alone(tmp_path: Path) -> None:
    for name in (".out.part", ".out.12345678.party", "out.12345678.part", ".other.12345678.part"):
        (tmp_path / name).mkdir()
        os.utime(tmp_path / name, (0, 0))
    before = set(tmp_path.iterdir())
    replaced(tmp_path / "out", {"a": "a"})
    assert set(tmp_path.iterdir()) == before | {tmp_path / "out"}


def test_one_file_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("old")

    def broken() -> None:
        with whole(tmp_path / "a") as part:
            part.write_text("half")
            raise OSError(28, "No space left on device")

    with pytest.raises(OSError, match="No space"):
        broken()
    assert tree(tmp_path) == {"a": b"old"}
    with whole(tmp_path / "a") as part:
        part.write_text("new")
    assert tree(tmp_path) == {"a": b"new"}


def test_the_longest_name_that_a_folder_may_have(tmp_path: Path) -> None:
    replaced(tmp_path / ("n" * 255), {"a": "a"})
    replaced(tmp_path / ("n" * 255), {"a": "b"})
    assert tree(tmp_path) == {"n" * 255 + "/a": b"b"}
