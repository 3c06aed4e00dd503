"""The film command on folders that the report writer made."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from records import make_analysis
from trackspread.api import write_report
from trackspread.cli import main


def _run(*arguments: object) -> int:
    with pytest.raises(SystemExit) as ended:
        main([str(argument) for argument in arguments])
    return int(ended.value.code or 0)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("results") / "out"
    write_report(make_analysis(routes=1, traces=4), folder)
    return folder


def test_a_result_folder_gets_stills_and_a_sequence(made: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mine = made / "stills" / "my own.png"
    mine.parent.mkdir(exist_ok=True)
    mine.write_text("mine")
    stale = made / "stills" / "99-gone-whole-1080p.png"
    stale.write_text("of an earlier run")
    assert _run("film", made, "--size", "1080") == 0
    names = sorted(path.name for path in (made / "stills").glob("*.png"))
    assert names[0] == "01-out-whole-1080p.png"
    assert mine.read_text() == "mine"
    assert not stale.exists()
    assert (made / "sequence.html").read_text("utf-8").startswith("<!doctype html>")
    printed = capsys.readouterr().out
    assert f"{len(names) - 1} stills" in printed
    assert "Private" in printed
    assert not list(made.glob(".film-*"))


def test_published_film_goes_into_a_folder_of_its_own(made: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert _run("film", made, "--size", "1080", "--publish", "--dark") == 0
    assert (made / "published" / "sequence.html").exists()
    assert "Private" not in capsys.readouterr().out
    assert (
        "Private"
        not in (made / "published" / "sequence.html")
        .read_text("utf-8")
        .split('id="data">')[1]
        .split("</script>")[0]
    )


@pytest.mark.slow
def test_a_publication_keeps_its_cut_whatever_is_run(tmp_path: Path) -> None:
    """A second cut of the same rides would tell more than the first."""
    out, published = tmp_path / "out", tmp_path / "out" / "published"
    write_report(make_analysis(routes=1, traces=4), out)

    def cut(*more: object) -> tuple[str, float]:
        assert _run("film", out, "--size", "1080", "--publish", "--quiet", *more) == 0
        route = json.loads((published / "result.json").read_text("utf-8"))["routes"][0]
        return str(route["centreline"]["coordinates"]), route["length_m"]

    first = cut()
    assert [cut(), cut("--dark")] == [first, first]
    text = (published / "result.json").read_text("utf-8")
    assert ".gpx" not in text
    assert "2025-12" in text
    hidden = cut("--hide-dates")
    assert hidden == first
    assert not re.search(r"20\d\d-", (published / "result.json").read_text("utf-8"))
    write_report(make_analysis(routes=1, traces=4), out)
    os.utime(out / "result.json", (4e9, 4e9))
    assert cut() == first
    shutil.copytree(out, tmp_path / "copied", ignore=shutil.ignore_patterns("published"))
    out, published = tmp_path / "copied", tmp_path / "copied" / "published"
    assert cut() == first


def test_dates_that_were_left_in_are_never_said_to_be_hidden(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_report(make_analysis(routes=1, traces=4), tmp_path / "out")
    assert _run("film", tmp_path / "out", "--size", "1080", "--publish", "--quiet") == 0
    assert _run("film", tmp_path / "out" / "published", "--publish", "--hide-dates") == 2
    assert "analyse the traces again with --publish --hide-dates" in capsys.readouterr().err


def test_a_folder_without_results_ends_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _run("film", tmp_path) == 2
    error = capsys.readouterr().err
    assert "result.json" in error
    assert "Traceback" not in error
    assert list(tmp_path.iterdir()) == []


def test_transparent_stills_stand_beside_the_others(made: Path) -> None:
    assert _run("film", made, "--size", "1080", "--transparent", "--quiet") == 0
    names = {path.name for path in (made / "stills").glob("*p.png")}
    clear = {name for name in names if "-transparent-" in name}
    assert {name.replace("-transparent", "") for name in clear} == names - clear


def test_without_an_encoder_everything_but_the_video_is_made(
    made: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "imageio_ffmpeg", None)
    (made / "sequence.html").unlink(missing_ok=True)
    assert _run("film", made, "--size", "1080", "--video", made / "way.mp4") == 1
    printed = capsys.readouterr()
    assert (made / "sequence.html").exists()
    assert not (made / "way.mp4").exists()
    (line,) = [line for line in printed.err.splitlines() if "encoder" in line]
    assert sys.executable in line or sys.prefix in line
    assert "stills and sequence are made" in line


def test_bad_video_names_are_refused_before_the_work(made: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert _run("film", made, "--video", "way.gif") == 2
    assert ".mp4 or .webm" in capsys.readouterr().err


def test_help_does_not_import_numbers_or_pictures() -> None:
    code = (
        "import sys; from trackspread.cli import main\n"
        "try: main(['film', '--help'])\n"
        "except SystemExit: pass\n"
        "print([n for n in ('numpy', 'matplotlib') if n in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip().endswith("[]")
