"""What became of every trace; unknown watches: said at once, their figures withheld, the rest as ever."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from corpus.blocks import gpx, saved, track
from trackspread import analyse
from trackspread.cli import main
from trackspread.model import NOTHING
from trackspread.pipeline.inputs import unknown_watches
from trackspread.results.words.reasons import said


def ride(number: int, writer: str) -> str:
    """A kilometre east, a point every second, on another day each."""
    rng = np.random.default_rng(number)
    aside = 1e-5 * np.cumsum(rng.normal(0.0, 0.1, 240))
    inside = "".join(
        f'<trkpt lat="{75.15 + aside[i]:.7f}" lon="{-87.3 + 1.5e-4 * i:.7f}">'
        f"<time>2031-07-{number + 1:02d}T06:{i // 60:02d}:{i % 60:02d}Z</time></trkpt>"
        for i in range(240)
    )
    return gpx(track(inside), root=f'gpx version="1.1" creator="{writer}"')


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for number in range(4):
        saved(tmp_path, ride(number, f"program {number % 2}"), f"{number}.gpx")
    return tmp_path


def test_figures_per_watch_are_withheld_and_the_first_note_says_so(folder: Path) -> None:
    analysis = analyse(folder)
    assert analysis.notes[0] == unknown_watches(analysis.inputs)
    assert "The watch that made all traces is unknown" in said(analysis.notes[0])
    assert "run trackspread init" in said(analysis.notes[0])
    (route,) = analysis.routes
    assert len(route.traces) == 4
    assert route.receivers == route.pairs == ()
    assert analysis.comparison is None


def test_standard_error_says_so_first(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(
            ["analyse", str(folder), "--out", str(folder / "out"), "--workers", "1", "--quiet", "--no-cache"]
        )
    assert capsys.readouterr().err.startswith("The watch that made all traces is unknown")


def test_known_watches_are_not_told(folder: Path) -> None:
    rows = "".join(f"{number}.gpx,moss\n" for number in range(4))
    (folder / "rides.csv").write_text("file,receiver\n" + rows)
    analysis = analyse(folder)
    assert unknown_watches(analysis.inputs) == NOTHING
    assert [receiver.receiver for receiver in analysis.routes[0].receivers] == ["moss"]


def test_every_file_is_accounted_for_with_its_points_and_its_reason(folder: Path) -> None:
    saved(folder, ride(9, "program 1").replace('lat="75', 'lat="74'), "elsewhere.gpx")
    *used, alone = sorted(analyse(folder).inputs, key=lambda record: record.file)
    assert [(record.route, record.status, record.points) for record in used] == [("Route A", "used", 240)] * 4
    assert (alone.route, alone.status, bool(said(alone.reason))) == ("", "set aside", True)
    assert alone.start_time_s == 1_941_429_600.0  # 2031-07-10T06:00:00Z
