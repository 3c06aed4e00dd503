"""The share command: the copy is what an analysis with --publish is, and nothing is analysed again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from records import make_analysis
from trackspread.api import write_report
from trackspread.cli import main
from trackspread.publish.cut import cut_for_publishing
from trackspread.results.arrays import load_analysis
from trackspread.results.document import result_document


def _run(*arguments: object) -> int:
    with pytest.raises(SystemExit) as ended:
        main([str(argument) for argument in arguments])
    return int(ended.value.code or 0)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("results") / "out"
    write_report(make_analysis(routes=1, traces=4), folder)
    return folder


def _said(document: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in document.items() if name != "tool"}


def test_the_copy_is_cut_and_stays_the_same(made: Path, tmp_path: Path) -> None:
    assert _run("share", made, "--out", tmp_path / "copy") == 0
    wanted = result_document(cut_for_publishing(load_analysis(made)))
    found = json.loads((tmp_path / "copy" / "result.json").read_text("utf-8"))
    assert _said(found) == _said(json.loads(json.dumps(wanted)))
    whole = json.loads((made / "result.json").read_text("utf-8"))
    assert found["routes"][0]["length_m"] < whole["routes"][0]["length_m"]
    page = (tmp_path / "copy" / "report.html").read_text("utf-8")
    assert "Ends cut for publication" in page
    assert 'class="share"' not in page
    assert _run("share", made, "--quiet") == 0
    again = json.loads((made.with_name("out-shareable") / "result.json").read_text("utf-8"))
    assert again["routes"][0]["centreline"] == found["routes"][0]["centreline"], "one secret cut"


def test_nothing_is_overwritten_and_nothing_cut_twice(
    made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _run("share", made, "--out", made) == 2
    assert "would replace the result" in capsys.readouterr().err
    (tmp_path / "mine.txt").write_text("mine")
    assert _run("share", made, "--out", tmp_path) == 2
    assert _run("share", tmp_path / "nothing") == 2
    assert _run("share", made, "--out", tmp_path / "copy", "--hide-dates") == 0
    capsys.readouterr()
    assert _run("share", tmp_path / "copy") == 2
    assert "cut already" in capsys.readouterr().err
