"""What a newcomer does wrong at first, and the line that says how to do it right."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from trackspread.cli import main
from world import simulate


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    with pytest.raises(SystemExit) as ended:
        main(list(arguments))
    assert ended.value.code == 2
    return capsys.readouterr().err


@pytest.fixture
def good(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TRACKSPREAD_CACHE", str(tmp_path / "cache"))
    simulate("winding", seed=3, rides=2, length_m=700.0).write_gpx(tmp_path / "good")
    for name in ("empty", "pictures", "watch", "own"):
        (tmp_path / name).mkdir()
    (tmp_path / "pictures" / "a.png").write_bytes(b"\x89PNG\r\n")
    (tmp_path / "packed").mkdir()
    with zipfile.ZipFile(tmp_path / "packed" / "rides.zip", "w") as archive:
        archive.writestr("may/a.png", b"\x89PNG\r\n")
    (tmp_path / "watch" / "1.fit").write_bytes(bytes(range(200)))
    (tmp_path / "own" / "thesis.txt").write_text("mine")


@pytest.mark.parametrize(
    ("paths", "words"),
    [
        ("goood", "goood: there is no such file or folder; check the name, or quote the pattern"),
        (
            "empty",
            "empty: there is no recording here (found 'no file'); name the folder of the FIT, TCX or GPX files",
        ),
        (
            "pictures",
            "pictures: there is no recording here (found 'a.png'); name the folder of the FIT, TCX or GPX files",
        ),
        (
            "packed",
            "packed: there is no recording here (found 'rides.zip/may/a.png'); "
            "name the folder of the FIT, TCX or GPX files",
        ),
        (
            "watch",
            "watch/1.fit, start: this is no FIT file, or its first bytes are damaged; copy it from the watch again",
        ),
        ("good/alder_01.gpx", "good/alder_01.gpx: no other trace runs this way in this direction"),
    ],
)
@pytest.mark.usefixtures("good")
def test_wrong_paths(paths: str, words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert said(capsys, "analyse", paths, "--out", "out", "--workers", "1").count(words + "\n") == 1
    assert not Path("out").exists()


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (["--segment", "50,5"], "'50,5' is no number; write it with a point, such as 2.5"),
        (["--segment", "0.5"], "--segment: from 10 to 100000 is allowed (found 0.5)"),
        (["--steady", "9"], "--torn: at least --steady, 9, is needed (found 6)"),
        (["--segmnt", "50"], "no such option '--segmnt'. Did you mean '--segment'?"),
        (["--rides", "no.csv"], "no.csv: the table of rides cannot be read: No such file or directory; check the name and its rights"),
    ],
)  # fmt: skip
@pytest.mark.usefixtures("good")
def test_wrong_options(given: list[str], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert words in said(capsys, "analyse", "good", "--out", "out", "--workers", "1", *given)


@pytest.mark.usefixtures("good")
def test_a_folder_of_ones_own(capsys: pytest.CaptureFixture[str]) -> None:
    words = "own: this folder holds other files and no result.json of ours; name a new or an empty folder"
    assert words in said(capsys, "analyse", "good", "--out", "own")
    assert [path.name for path in Path("own").iterdir()] == ["thesis.txt"]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ("analyse --nosuch", "no such option '--nosuch'"),
        ("analyse", "missing argument 'PATHS...'"),
        ("analyse good", "missing option '--out'"),
        ("analyse good --out", "option '--out' requires an argument"),
        ("analyse good --out out --grid mercator", "'mercator' is not one of 'local', 'utm'"),
        ("analyse good --out out --min-traces 2.5", "'2.5' is not a valid integer"),
        ("analyse good --out out --workers 0", "0 is not in the range 1<=x<=256"),
        ("analyse good --out out --basemap {z}", "--basemap needs --attribution"),
        ("analyse good --out out --hide-dates", "--hide-dates needs --publish"),
        ("film good --hide-dates", "--hide-dates needs --publish"),
        ("init", "missing argument 'FOLDER'"),
        ("init none", "Directory 'none' does not exist"),
        ("plan --ratio half", "'half' is not a valid float"),
        ("rank", "missing argument 'RESULTS...'"),
        ("rank good --by weight", "'weight' is not one of 'spread', 'first fix'"),
        ("film", "missing argument 'FOLDER'"),
        ("film good --size 3", "'3' is not one of '1080', '2160'"),
        ("drop here", "got unexpected extra argument (here)"),
        ("archive good", "missing option '--out'"),
        ("cache --clear=1", "option '--clear' does not take a value"),
        ("nosuch", "no such command 'nosuch'"),
        ("--nosuch", "no such option '--nosuch'"),
    ],
)
@pytest.mark.usefixtures("good")
def test_wrong_usage_is_told_in_one_line(given: str, words: str, capsys: pytest.CaptureFixture[str]) -> None:
    line = said(capsys, *given.split())
    called = f"trackspread {given.partition(' ')[0]}" if given[0] not in "n-" else "trackspread"
    assert line.count("\n") == 1
    assert line.startswith(f"{called}: ")
    assert words in line
    assert line.rstrip().lower().endswith(f" see {called} --help")
    assert not Path("out").exists()


def test_without_a_command_the_help_is_shown(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main([])
    told = capsys.readouterr()
    assert (told.out + told.err).startswith("Usage: trackspread [OPTIONS] COMMAND")
