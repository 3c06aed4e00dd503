"""What watches claim of their accuracy, from the file to the result: kept per point, set beside what was seen."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

import trackspread as ts
from trackspread.model import Claim, Estimate
from trackspread.pipeline.claims import claim_code
from world import Receiver, simulate
from world.activity_files import claimed_m, fit_bytes
from world.files import utc


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[ts.model.Analysis, Path]:
    """Six rides of two invented watches, both of which claim 2 or 3 m: one errs by 1 m, one by 8 m."""
    folder = tmp_path_factory.mktemp("rides")
    log = ["receiver,start_pressed,fix_seen"]
    watches = (Receiver(name="sedge", sigma_m=1.0), Receiver(name="fern", sigma_m=8.0))
    for r in simulate("winding", seed=8, rides=6, receivers=watches, length_m=1500).recordings:
        (folder / f"{r.receiver.name}_{r.ride}.fit").write_bytes(fit_bytes(r))
        assert set(claimed_m(r)) == {2, 3}
        log.append(f"{r.receiver.name},{utc(r.start_s)},{utc(r.start_s + 20.0)}")
    (folder / "rides.csv").write_text("\n".join(log))
    analysis = ts.analyse(folder)
    ts.write_report(analysis, folder / "out")
    return analysis, folder / "out"


def test_claims_stand_at_the_stations_that_have_an_offset(written: tuple[ts.model.Analysis, Path]) -> None:
    (route,) = written[0].routes
    assert route.claim_m.shape == route.offset_m.shape
    np.testing.assert_array_equal(np.isfinite(route.claim_m), np.isfinite(route.offset_m))
    known = route.claim_m[np.isfinite(route.claim_m)]
    assert (known.min(), known.max()) == (2.0, 3.0)
    assert ((known == 2.0) | (known == 3.0)).mean() > 0.9  # else between two points


def test_a_watch_that_claims_less_than_was_seen_is_told(written: tuple[ts.model.Analysis, Path]) -> None:
    analysis, out = written
    assert analysis.comparison is not None
    told = {one.receiver: (one.claimed_m.median, one.claim) for one in analysis.comparison.receivers}
    assert told["fern"] == (told["fern"][0], "less")
    assert told["sedge"][1] == "alike"
    page = (out / "report.html").read_text("utf-8")
    assert "fern claims " in page
    assert "it claims less error than was seen" in page
    assert "What each watch claims beside what was seen" in page


def test_claims_are_in_tables_arrays_and_what_is_loaded(written: tuple[ts.model.Analysis, Path]) -> None:
    analysis, out = written
    for name in ("traces", "receivers", "watches"):
        with (out / "tables" / f"{name}.csv").open(newline="") as file:
            assert {row["claimed_m"] for row in csv.DictReader(file)} <= {"2", "2.5", "3"}
    with np.load(out / "arrays.npz") as arrays:
        np.testing.assert_array_equal(arrays["route0_claim_m"], analysis.routes[0].claim_m)
    again = ts.load(out)
    np.testing.assert_array_equal(again.routes[0].claim_m, analysis.routes[0].claim_m)
    assert again.comparison is not None
    assert [one.claim for one in again.comparison.receivers] == ["alike", "less"]
    assert [one.claimed_m for one in again.routes[0].receivers] == [
        one.claimed_m for one in analysis.routes[0].receivers
    ]


def test_what_the_watch_showed_stands_beside_the_first_position(
    written: tuple[ts.model.Analysis, Path],
) -> None:
    """The rows of the log name no file: watch and time tell of which ride they speak."""
    analysis, out = written
    assert analysis.comparison is not None
    for one in analysis.comparison.receivers:
        assert (one.fix_seen_s.median, one.fix_seen_s.n) == (20.0, 6)
    for trace in analysis.routes[0].traces:
        assert (trace.first_fix.source, trace.first_fix.seen_s) == ("declared", 20.0)
    with (out / "tables" / "fixes.csv").open(newline="") as file:
        assert {row["fix_seen_s"] for row in csv.DictReader(file)} == {"20"}
    page = (out / "report.html").read_text("utf-8")
    assert "from the start noted in rides.csv. Fix shown on the watch, median: " in page


@pytest.mark.parametrize(
    ("median", "low", "high", "code"),
    [
        (3.0, 4.0, 6.0, "less"), (4.5, 4.0, 6.0, "alike"), (7.0, 4.0, 6.0, "more"),
        (np.nan, 4.0, 6.0, "none"), (3.0, np.nan, np.nan, "none"),
    ],
)  # fmt: skip
def test_the_code_sets_the_claim_beside_the_interval(
    median: float, low: float, high: float, code: str
) -> None:
    assert claim_code(Claim(median=median), Estimate(value=5.0, low=low, high=high)) == code


def test_factors_of_geometry_stand_beside_claims_and_are_no_metres(tmp_path: Path) -> None:
    """GPX 1.1: ``sat``, ``hdop`` and ``pdop`` of a point, in this order; medians by hand."""
    for file in simulate("winding", seed=8, rides=2, length_m=500).write_gpx(tmp_path / "rides"):
        said = "</time><sat>9</sat><hdop>1.2</hdop><pdop>2.4</pdop>"
        file.write_text(file.read_text().replace("</time>", said))
    analysis = ts.analyse(tmp_path / "rides")
    ts.write_report(analysis, tmp_path / "out")
    with (tmp_path / "out" / "tables" / "traces.csv").open(newline="") as table:
        told = [
            (row["satellites"], row["hdop"], row["pdop"], row["claimed_m"]) for row in csv.DictReader(table)
        ]
    assert told == [("9", "1.2", "2.4", "")] * 2
    assert ts.load(tmp_path / "out").routes[0].traces[0].hdop == 1.2
