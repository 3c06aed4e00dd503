"""The face of the package, as a notebook uses it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import trackspread as ts
from trackspread.model import Recordings
from world import simulate


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("rides")
    simulate("winding", seed=3, rides=4, length_m=900.0).write_gpx(folder)
    return folder


@pytest.fixture(scope="module")
def analysis(folder: Path) -> ts.model.Analysis:
    return ts.analyse(folder)


def test_one_path_as_text_is_one_path_and_not_its_letters(folder: Path, analysis: ts.model.Analysis) -> None:
    again = ts.analyse(str(folder))
    many = ts.analyse(sorted(folder.glob("*.gpx")))
    assert [route.spread for route in again.routes] == [route.spread for route in analysis.routes]
    assert [route.spread for route in many.routes] == [route.spread for route in analysis.routes]


def test_reading_and_analysing_are_two_halves(folder: Path, analysis: ts.model.Analysis) -> None:
    recordings = ts.read(folder)
    assert isinstance(recordings, Recordings)
    assert len(recordings) == 4
    assert ts.analyse(recordings).routes[0].spread == analysis.routes[0].spread


def test_thresholds_are_keywords_or_options(folder: Path) -> None:
    by_keyword = ts.analyse(folder, segment_m=50)
    by_record = ts.analyse(folder, ts.Options(segment_m=50))
    both = ts.analyse(folder, ts.Options(segment_m=100, steady_m=2), segment_m=50)
    assert by_keyword.routes[0].segments == by_record.routes[0].segments
    assert both.settings["segment_m"] == 50
    assert both.settings["steady_m"] == 2


def test_an_unknown_threshold_is_a_bad_option_that_lists_them(folder: Path) -> None:
    with pytest.raises(ts.BadOption, match=r"segmnt_m: there is no such threshold; there are segment_m, "):
        ts.analyse(folder, segmnt_m=50)
    assert issubclass(ts.BadOption, ValueError)
    assert issubclass(ts.NothingToAnalyse, ValueError)
    assert issubclass(ts.UnreadableFile, ValueError)


def test_a_written_report_is_loaded_again(analysis: ts.model.Analysis, tmp_path: Path) -> None:
    files = ts.write_report(analysis, str(tmp_path / "out"))
    assert all(file.is_file() for file in files)
    back = ts.load(str(tmp_path / "out"))
    assert back.routes[0].name == analysis.routes[0].name
    assert back.routes[0].offset_m.shape == analysis.routes[0].offset_m.shape


def test_a_bare_import_loads_nothing_heavy_and_names_come_when_asked_for() -> None:
    code = (
        "import sys, trackspread as ts\n"
        "assert not {'numpy', 'pandas', 'scipy', 'trackspread.api'} & set(sys.modules)\n"
        "ts.Options\n"
        "assert 'numpy' not in sys.modules and 'analyse' in dir(ts)\n"
        "try: ts.nothing\n"
        "except AttributeError as error: print(error)\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert run.stdout == "module 'trackspread' has no attribute 'nothing'\n"


def test_what_analyses_loads_no_library_that_few_analyses_need() -> None:
    code = "import sys, trackspread.pipeline.analyse; print(sorted(sys.modules))"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    for name in ("scipy.stats", "scipy.optimize", "scipy.interpolate", "pandas", "gpxpy", "folium"):
        assert f"'{name}'" not in run.stdout


def test_two_exports_of_one_recording_are_said_to_be_that(tmp_path: Path) -> None:
    """Once the answer was that no two traces run the same way."""
    world = simulate("straight", seed=1, rides=1, length_m=800, lights=0)
    (file,) = world.write_gpx(tmp_path)
    (tmp_path / "rides.csv").unlink()
    (tmp_path / "again.gpx").write_bytes(file.read_bytes())
    with pytest.raises(ts.NothingToAnalyse, match="one recording, exported more than once"):
        ts.analyse(tmp_path)
