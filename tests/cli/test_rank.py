"""The rank command and its page on result folders of several weeks."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from records import make_analysis
from saved_results import saved, two_weeks
from trackspread.cli import main
from trackspread.compare.page import rank_page
from trackspread.compare.standings import standings
from trackspread.errors import UnreadableFile


def run(*arguments: object) -> int:
    with pytest.raises(SystemExit) as ended:
        main([str(argument) for argument in arguments])
    return int(ended.value.code or 0)


@pytest.fixture
def weeks(tmp_path: Path) -> list[Path]:
    return two_weeks(tmp_path)


def test_the_first_fix_of_one_ride_has_no_interval(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = make_analysis(seed=3, routes=1, traces=8)
    (route,) = made.routes
    once = replace(route.receivers[0].first_fix_s, median=6.0, low=6.0, high=6.0, n=1)
    shown = replace(
        made, routes=(replace(route, receivers=(replace(route.receivers[0], first_fix_s=once),)),)
    )
    run("rank", saved(tmp_path / "a", shown))
    out = capsys.readouterr().out
    assert "6 s (one ride)" in out
    assert "6 to 6" not in out


def test_command_prints_and_writes(
    weeks: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page, table = tmp_path / "rank.html", tmp_path / "rank.csv"
    assert run("rank", *weeks, "--html", page, "--csv", table, "--by", "first fix") == 0
    out = capsys.readouterr().out
    assert "week 1" in out
    assert "no detectable difference" in out
    rows = list(csv.DictReader(table.read_text("utf-8").splitlines()))
    assert len(rows) == 4
    assert all(
        float(row["spread_m_low"]) <= float(row["spread_m"]) <= float(row["spread_m_high"]) for row in rows
    )
    assert {row["shared_stations_only"] for row in rows} == {"true", "false"}
    assert page.read_text("utf-8").startswith("<!doctype html>")


def test_files_of_others_are_not_replaced(
    weeks: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "mine.html"
    page.write_text("mine")
    assert run("rank", weeks[0], "--html", page) == 2
    assert page.read_text() == "mine"
    assert "--overwrite" in capsys.readouterr().err
    assert run("rank", weeks[0], "--html", page, "--overwrite") == 0
    assert page.read_text("utf-8") != "mine"
    assert run("rank", weeks[0], "--csv", tmp_path / "no" / "such" / "folder.csv") == 2
    assert run("rank", weeks[0], "--csv", tmp_path, "--overwrite") == 2
    assert not list(tmp_path.rglob("*.part"))


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"schema": "other"}'])
def test_what_is_no_result_is_refused_in_one_line(
    tmp_path: Path, text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "result.json").write_text(text)
    assert run("rank", tmp_path) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1
    with pytest.raises(UnreadableFile):
        standings([tmp_path / "missing"])


def test_hostile_names_stay_text(tmp_path: Path) -> None:
    folder = saved(tmp_path / "<b>week", make_analysis(routes=2, traces=8, hostile=True))
    page = rank_page(standings([folder]), "spread")
    assert "<script" not in page
    assert "<img" not in page
    assert "<svg/" not in page
    assert "&lt;b&gt;week" in page
    assert "\u202e" not in page


def test_the_page_opens_in_peace(tmp_path: Path, page: Any, weeks: list[Path]) -> None:
    folder = saved(tmp_path / "hostile", make_analysis(routes=1, traces=8, hostile=True))
    file = tmp_path / "rank.html"
    file.write_text(rank_page(standings([*weeks, folder]), "spread"), "utf-8")
    words: list[str] = []
    page.on("console", lambda message: words.append(message.text))
    page.on("pageerror", lambda error: words.append(str(error)))
    page.goto(file.as_uri())
    assert page.title() == "Watches side by side"
    assert page.locator("tbody tr").count() >= 6
    page.set_viewport_size({"width": 390, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert words == []
