"""Traces without times: geometry as with them, and everything that needs time says that it is not measurable."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from trackspread.api import write_report
from trackspread.model import Analysis, Witness
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.results.words.reasons import said
from world import Fault, Receiver, simulate
from world.witnesses import as_witnesses

PAIR = (Receiver(name="alder", sigma_m=1.5), Receiver(name="bilberry", sigma_m=2.5))
ASTRAY = Fault(kind="stretch", ride=1, receiver="alder", from_m=900, to_m=1150, offset_m=22.0)
TIMED = ("seconds", "start_time", "lower_bound_s")


def untimed(witness: Witness) -> Witness:
    bare = replace(witness.trace, time_s=np.full(len(witness.trace.time_s), np.nan))
    return replace(witness, trace=bare, start_s=float("nan"), start_source="none")


@pytest.fixture(scope="module")
def both() -> tuple[Analysis, Analysis]:
    world = simulate("winding", seed=7, rides=4, length_m=2500, receivers=PAIR, faults=[ASTRAY])
    witnesses = as_witnesses(world)
    return analyse(witnesses, Options()), analyse([untimed(w) for w in witnesses], Options())


@pytest.fixture(scope="module")
def folder(both: tuple[Analysis, Analysis], tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("untimed")
    write_report(both[1], where)
    return where


def leaves(value: object, name: str = "") -> Iterator[tuple[str, dict[str, object], object]]:
    """Give every figure of a document with the record that holds it."""
    if isinstance(value, list):
        for entry in value:
            yield from leaves(entry, name)
    elif isinstance(value, dict):
        for key, entry in value.items():
            if isinstance(entry, dict | list):
                yield from leaves(entry, key)
            else:
                yield key, value, entry


def test_the_line_and_the_spread_need_no_times(both: tuple[Analysis, Analysis]) -> None:
    """Standing cannot be collapsed without times, and so the two differ a little."""
    with_times, without = (analysis.routes[0] for analysis in both)
    scale = np.array([111_195.0 * np.cos(np.radians(with_times.lat_deg.mean())), 111_195.0])
    line, other = (
        shapely.LineString(np.stack([r.lon_deg, r.lat_deg], axis=1) * scale) for r in (with_times, without)
    )
    assert shapely.hausdorff_distance(line, other) < 8.0
    assert without.length_m == pytest.approx(with_times.length_m, rel=0.01)
    assert without.spread.value == pytest.approx(with_times.spread.value, rel=0.1)
    assert without.p95_m == pytest.approx(with_times.p95_m, rel=0.15)
    for route in (with_times, without):
        (stretch,) = [s for s in route.stretches if s.receiver == "alder" and s.ride == "2"]
        assert (stretch.from_m, stretch.to_m) == pytest.approx((890, 1140), abs=30)
        assert stretch.cause == "receiver"
    assert without.pairs[0].sd_a.value == pytest.approx(with_times.pairs[0].sd_a.value, rel=0.2)


def test_every_time_is_null_with_a_reason_in_the_document(folder: Path) -> None:
    (route,) = json.loads((folder / "result.json").read_text(encoding="utf-8"))["routes"]
    seen = set()
    for key, record, value in leaves(route):
        if (key.endswith("_s") and key != "hold_s") or key in TIMED:
            seen.add(key)
            assert value is None, key
            reasons = [str(record[k]) for k in (f"{key}_reason", "reason", "value_s_reason") if k in record]
            assert any("times" in reason or "measurable" in reason for reason in reasons), (key, record)
    assert {"value_s", "seconds", "start_time"} <= seen
    assert any("no times" in note for note in route["notes"])


def test_tables_leave_the_cells_of_times_empty(folder: Path) -> None:
    columns = {
        "fixes": ("first_fix_s", "settled_fix_s", "lower_bound_s"),
        "stretches": ("seconds_s", "start_time"),
        "pairs": ("clock_offset_s", "clock_offset_low_s"),
    }
    for name, timed in columns.items():
        with (folder / "tables" / f"{name}.csv").open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
        assert rows, name
        assert {row[column] for row in rows for column in timed} == {""}


def test_the_report_says_it_once(folder: Path) -> None:
    text = (folder / "report.html").read_text(encoding="utf-8")
    assert "First fix: unknown; the trace has no times." in text
    assert "not measurable: not measurable" not in text
    assert "nan s" not in text.lower()


def test_a_line_without_times_among_recordings_is_asked_about() -> None:
    """A plan exported as a track cannot be told from a recording without times: whose it is is said."""
    witnesses = as_witnesses(simulate("winding", seed=7, rides=5, length_m=900))
    assert analyse(witnesses, Options()).routes[0].notes == ()
    plan = replace(untimed(witnesses[1]), receiver="a planner")
    (note,) = map(said, analyse([witnesses[0], plan, *witnesses[2:]], Options()).routes[0].notes)
    assert note.startswith("without times: a planner on ride 2; a planned line is no recording")
    plans = [untimed(w) for w in witnesses[:4]]
    (note,) = map(said, analyse([*plans, witnesses[4]], Options()).routes[0].notes)
    assert "ride 3 and 1 more;" in note
