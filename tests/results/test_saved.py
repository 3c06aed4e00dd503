"""A result.json is taken whole or refused in one line that names the place."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from records import make_analysis
from trackspread.errors import UnreadableFile
from trackspread.results.document import result_document
from trackspread.results.saved import load_result


@pytest.fixture
def saved(tmp_path: Path) -> Path:
    file = tmp_path / "result.json"
    file.write_text(json.dumps(result_document(make_analysis())), "utf-8")
    return file


def test_a_file_and_its_folder_give_the_same(saved: Path) -> None:
    assert load_result(saved) == load_result(saved.parent) == json.loads(saved.read_text("utf-8"))


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda text: text.replace('"schema"', '"scheme"', 1), "schema"),
        (lambda text: text[:-1], "strict JSON in UTF-8 is needed"),
        (lambda text: text.replace('"length_m": ', '"length_m": NaN, "x": ', 1), "NaN is no JSON number"),
        (lambda text: "[" * 100_000, "strict JSON in UTF-8 is needed"),
        (lambda text: "[]", "result.json"),
    ],
    ids=["another name", "cut short", "a number that is none", "too deep", "no object"],
)
def test_anything_else_is_refused_in_one_line(saved: Path, change, told: str) -> None:
    saved.write_text(change(saved.read_text("utf-8")), "utf-8")
    with pytest.raises(UnreadableFile, match=told) as error:
        load_result(saved)
    assert "\n" not in str(error.value)


def test_a_result_that_is_not_there_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFile, match=r"nowhere.*: cannot be read: No such file"):
        load_result(tmp_path / "nowhere")
