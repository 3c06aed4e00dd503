"""Ctrl-C and kill at random moments of every command that writes: the old stands whole, or the new does."""

from __future__ import annotations

import os
import random
import shutil
import signal
from pathlib import Path

import pytest

from faults.children import Place, sizes, struck, tree

pytestmark = pytest.mark.slow
MOMENTS = int(os.environ.get("MOMENTS", "2"))
"""How often each command is struck; ``MOMENTS=20`` was run once, see docs/testing.md."""

WORDS = "trackspread: interrupted; nothing was left half-written"
OLD = ["analyse", "in", "--out", "out", "--quiet"]
COMMANDS = {
    "analyse": ["analyse", "in", "--out", "out", "--quiet", "--segment", "50"],
    "analyse with workers": ["analyse", "in", "--out", "out", "--quiet", "--segment", "50", "--workers", "2"],
    "film": ["film", "out", "--size", "1080", "--quiet", "--dark"],
    "plan": ["plan", "out", "--csv", "out/plan.csv", "--chart", "out/plan.svg", "--overwrite"],
    "rank": ["rank", "out", "--csv", "out/rank.csv", "--html", "out/rank.html", "--overwrite"],
}


def moments(seconds: float, seed: str) -> list[float]:
    """Return moments over the whole course of a command, one in each of equal parts of it."""
    draw = random.Random(seed)
    return [(part + draw.random()) * 1.1 * seconds / MOMENTS for part in range(MOMENTS)]


@pytest.fixture(scope="module")
def earlier(tmp_path_factory: pytest.TempPathFactory) -> Place:
    """A place with an earlier result in ``out``, and files of somebody in it; every test works on a copy."""
    place = Place.made(tmp_path_factory.mktemp("earlier"))
    assert place.run(OLD).returncode == 0
    out = place.folder / "out"
    (out / "notes.txt").write_text("mine")
    (out / "stills").mkdir()
    (out / "stills" / "mine.png").write_text("mine")
    for name in ("plan.csv", "plan.svg", "rank.csv", "rank.html"):
        (out / name).write_text("old")
    return place


TAKES: dict[str, tuple[float, dict[str, int]]] = {}
"""How long each command takes, and the sizes of all files after it: found once."""


class Wholes:
    """What may be in the folder: the old files to the byte, or the new ones."""

    def __init__(self, place: Place, name: str) -> None:
        self.out, self.kept = place.folder / "out", place.folder / "kept"
        self.old = tree(self.out)
        shutil.copytree(self.out, self.kept)
        if name not in TAKES:
            TAKES[name] = place.seconds(COMMANDS[name]), sizes(self.out)
            self.restore()
        self.seconds, self.new = TAKES[name]

    def restore(self) -> None:
        shutil.rmtree(self.out)
        shutil.copytree(self.kept, self.out)

    def is_whole(self, one_by_one: bool) -> bool:
        """Whether all is old or all is new; ``one_by_one``: each file for itself (a command that names them)."""
        found, size = tree(self.out), sizes(self.out)
        mine = {name: data for name, data in found.items() if data == b"mine"}
        assert mine.keys() == {"notes.txt", "stills/mine.png"}
        if one_by_one:
            return all(found[name] == self.old[name] or size[name] == self.new[name] for name in self.new)
        return found == self.old or size == self.new


@pytest.mark.parametrize("name", COMMANDS)
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGKILL], ids=["interrupted", "killed"])
def test_old_or_new_stands_whole(name: str, number: int, earlier: Place, tmp_path: Path) -> None:
    shutil.copytree(earlier.folder, tmp_path, dirs_exist_ok=True)
    place, arguments = Place(folder=tmp_path), COMMANDS[name]
    wholes = Wholes(place, name)
    for after_s in moments(wholes.seconds, f"{name} {number}"):
        code, said = struck(place, arguments, after_s, number, group=number == signal.SIGINT)
        assert wholes.is_whole(name in ("plan", "rank")), f"half a result, struck after {after_s:.3f} s"
        assert "Traceback" not in said, said
        if number == signal.SIGINT:
            assert code in (0, 130), said
            assert said.strip() in (("", WORDS, "trackspread: interrupted") if code else ("",)), said
            assert place.strays() == []
        wholes.restore()
    assert place.run(arguments).returncode == 0
    assert place.strays() == []
    assert wholes.is_whole(False)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGKILL, signal.SIGTERM], ids=lambda n: n.name)
def test_a_first_result_is_whole_or_not_there(number: int, tmp_path: Path) -> None:
    place = Place.made(tmp_path)
    seconds = place.seconds(OLD)
    whole = sizes(tmp_path / "out")
    for after_s in moments(seconds, str(number)):
        shutil.rmtree(tmp_path / "out", ignore_errors=True)
        code, said = struck(place, OLD, after_s, number)
        assert not (tmp_path / "out").exists() or sizes(tmp_path / "out") == whole
        assert code in (0, 130, -signal.SIGKILL, -signal.SIGTERM)  # the last: before our first line
        assert "Traceback" not in said
    assert place.run(OLD).returncode == 0
    assert place.strays() == []


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGKILL], ids=["interrupted", "killed"])
def test_an_archive_holds_whole_routes_only(number: int, tmp_path: Path) -> None:
    place = Place.made(tmp_path, routes=3)
    arguments = ["archive", "in", "--out", "out", "--quiet", "--workers", "2"]
    seconds = place.seconds(arguments)
    whole = {path.name: sizes(path) for path in (tmp_path / "out").glob("route *")}
    assert len(whole) == 3
    for after_s in moments(seconds, f"archive {number}"):
        shutil.rmtree(tmp_path / "out", ignore_errors=True)
        code, said = struck(place, arguments, after_s, number, group=number == signal.SIGINT)
        assert "Traceback" not in said, said
        assert code in (0, 130, -signal.SIGKILL)
        assert number == signal.SIGKILL or said.strip() in ("", WORDS, "trackspread: interrupted")
        for path in (tmp_path / "out").glob("route *"):
            found = {name: size for name, size in sizes(path).items() if not name.startswith(".")}
            marked = found.pop("archive-mark.json", whole[path.name]["archive-mark.json"])
            assert {**found, "archive-mark.json": marked} == whole[path.name]
    assert place.run(arguments).returncode == 0
    assert place.strays() == []
