"""The plan command: answers, tables, chart, and a pilot's result.json."""

from __future__ import annotations

import csv
import itertools
import json
import math
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from scipy import stats

from records import make_analysis
from trackspread.cli import main
from trackspread.model import Estimate
from trackspread.planning.table import ride_plans
from trackspread.results.document import result_document, result_text
from trackspread.statistics.power import log_variance, rides_to_tell_apart
from trackspread.statistics.rides_needed import rides_for_spread


def run(*arguments: object) -> int:
    with pytest.raises(SystemExit) as ended:
        main([str(argument) for argument in arguments])
    return int(ended.value.code or 0)


@pytest.fixture
def pilot(tmp_path: Path) -> Path:
    """Four rides of two receivers, 3.2 independent values each; SDs 1.5 and 2.6 m, nothing in common."""
    made = make_analysis(routes=1, traces=8)
    dof = 3 * 3.2
    ends = [10.0 * math.sqrt(dof / stats.chi2.ppf(p, dof)) for p in (0.975, 0.025)]
    route = replace(made.routes[0], spread=Estimate(value=10.0, low=ends[0], high=ends[1]))
    (tmp_path / "result.json").write_text(
        result_text(result_document(replace(made, routes=(route,)))), "utf-8"
    )
    return tmp_path


def test_typed_figures(capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        run("plan", "--spread-known-to", 20, "--ratio", 1.5, "--power", 0.8, "--independent-lengths", 6) == 0
    )
    out = capsys.readouterr().out
    assert f"Spread known to ±20%: {rides_for_spread(0.2, 0.95, 6.0)} rides." in out
    assert f"{rides_to_tell_apart(1.5, 0.8, 0.95, log_variance(6.0))} rides ridden together" in out
    assert "6 independent values a ride (as typed)" in out


def test_one_ride_one_value_by_default(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("plan") == 0
    assert "the most cautious" in capsys.readouterr().out


def test_a_pilot_gives_lengths_and_ratio(pilot: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (plan,) = ride_plans(pilot, 0.2, None, 0.8, 0.95, None, None)
    assert plan.ratio == pytest.approx(2.6 / 1.5, rel=0.02)
    assert plan.spread_rides == pytest.approx(rides_for_spread(0.2, 0.95, 3.2), abs=1)
    assert run("plan", pilot / "result.json") == 0
    assert "itself uncertain" in capsys.readouterr().out
    (typed,) = ride_plans(pilot, 0.2, 3.0, 0.8, 0.95, 10.0, 0.5)
    assert typed.ratio == 3.0
    assert typed.spread_rides == rides_for_spread(0.2, 0.95, 10.0)


def test_the_plan_for_as_many_rides_shows_the_interval_of_the_report(pilot: Path) -> None:
    """The report tells the spread of all errors, whose interval reaches far up: so does the plan."""
    made = json.loads((pilot / "result.json").read_text("utf-8"))
    made["routes"][0]["spread_all"] = {"value_m": 10.0, "low_m": 7.0, "high_m": 24.0}
    (pilot / "result.json").write_text(json.dumps(made), "utf-8")
    (plan,) = ride_plans(pilot, 0.2, None, 0.8, 0.95, None, None)
    rides = len({trace["ride"] or trace["file"] for trace in made["routes"][0]["traces"]})
    (row,) = (row for row in plan.rows if row.rides == rides)
    assert (row.low_factor, row.high_factor) == pytest.approx((0.7, 2.4), rel=1e-3)
    assert all(a.high_factor > b.high_factor for a, b in itertools.pairwise(plan.rows))


def test_a_pilot_without_pairs(tmp_path: Path) -> None:
    made = make_analysis(routes=1, traces=5, pairs=False)
    (tmp_path / "result.json").write_text(result_text(result_document(made)), "utf-8")
    (plan,) = ride_plans(tmp_path, 0.2, None, 0.8, 0.95, None, None)
    assert plan.ratio == 1.5


def test_many_plans_are_one_row_each(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Five watches on two routes are twenty plans: at most 60 lines, the full tables in the file."""
    made = make_analysis(routes=2)
    pairs = [
        replace(made.routes[0].pairs[0], a=f"watch {i}", b=f"watch {j}") for i in range(5) for j in range(i)
    ]
    routes = tuple(replace(route, pairs=tuple(pairs)) for route in made.routes)
    (tmp_path / "result.json").write_text(
        result_text(result_document(replace(made, routes=routes, comparison=None))), "utf-8"
    )
    assert run("plan", tmp_path, "--csv", tmp_path / "plan.csv") == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= 60
    assert sum("watch 4 and watch 3" in line for line in lines) == 2
    with (tmp_path / "plan.csv").open(encoding="utf-8") as file:
        assert len({row["plan"] for row in csv.DictReader(file)}) == 20


def test_rows_mark_the_first_that_is_enough() -> None:
    (plan,) = ride_plans(None, 0.2, 1.5, 0.8, 0.95, 4.0, 0.0)
    starred = [row.rides for row in plan.rows if plan.cells(row)[2].endswith("*")]
    assert starred == [plan.spread_rides]
    assert [row.within for row in plan.rows] == sorted((row.within for row in plan.rows), reverse=True)


def test_table_and_chart(pilot: Path, tmp_path: Path) -> None:
    table, chart = tmp_path / "plan.csv", tmp_path / "plan.svg"
    assert run("plan", pilot, "--csv", table, "--chart", chart) == 0
    rows = list(csv.DictReader(table.read_text("utf-8").splitlines()))
    assert [int(row["rides"]) for row in rows][:4] == [2, 3, 4, 5]
    assert ElementTree.fromstring(chart.read_bytes()).tag.endswith("svg")
    first = chart.read_bytes()
    assert run("plan", pilot, "--chart", chart) == 2
    assert run("plan", pilot, "--chart", chart, "--overwrite") == 0
    assert chart.read_bytes() == first


def test_hostile_names_in_chart_and_table(tmp_path: Path) -> None:
    made = make_analysis(routes=1, traces=8, hostile=True)
    (tmp_path / "result.json").write_text(result_text(result_document(made)), "utf-8")
    table, chart = tmp_path / "plan.csv", tmp_path / "plan.svg"
    assert run("plan", tmp_path, "--csv", table, "--chart", chart) == 0
    ElementTree.fromstring(chart.read_bytes())
    assert not any(
        row[0].startswith(("=", "+", "-", "@")) for row in csv.reader(table.read_text().splitlines())
    )


@pytest.mark.parametrize(
    "arguments",
    [("--ratio", "1"), ("--power", "1"), ("--spread-known-to", "0"), ("--confidence", "2"), ("nowhere",)],
)
def test_what_cannot_be_is_refused(arguments: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    assert run("plan", *arguments) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_beyond_all_campaigns(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("plan", "--spread-known-to", 1) == 0
    assert "more than 5000 rides" in capsys.readouterr().out
