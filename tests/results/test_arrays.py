"""arrays.npz: readable with NumPy alone, the same bytes twice, and a folder read back into an analysis."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from invented import analyses, differences
from records import fuller, make_analysis
from trackspread import model as m
from trackspread.errors import UnreadableFile
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.results.arrays import load_analysis, write_arrays
from trackspread.results.document import result_document, result_text
from trackspread.results.words.reasons import said
from world import Globe, simulate
from world.witnesses import as_witnesses


def _folder(path: Path, analysis: m.Analysis) -> Path:
    path.mkdir()
    (path / "result.json").write_text(result_text(result_document(analysis)), encoding="utf-8")
    write_arrays(analysis, path / "arrays.npz")
    return path


@pytest.mark.parametrize("hostile", [False, True])
def test_a_folder_comes_back_as_it_was(tmp_path: Path, hostile: bool) -> None:
    whole = fuller(make_analysis(hostile=hostile))
    assert differences(load_analysis(_folder(tmp_path / "out", whole)), whole) == []


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(analyses())
def test_whatever_was_written_is_read_back(
    tmp_path_factory: pytest.TempPathFactory, whole: m.Analysis
) -> None:
    """Every field of every record, to the last bit, also where nothing is known or nothing is bounded."""
    folder = _folder(tmp_path_factory.mktemp("whole") / "out", whole)
    assert differences(load_analysis(folder), whole) == []


def test_a_route_across_the_antimeridian_comes_back(tmp_path: Path) -> None:
    world = simulate("winding", seed=3, rides=3, length_m=600.0, globe=Globe(lon_deg=179.999, lat_deg=-12.0))
    whole = analyse(as_witnesses(world), Options())
    assert max(whole.routes[0].lon_deg) > 180.0 or min(whole.routes[0].lon_deg) < -180.0
    back = load_analysis(_folder(tmp_path / "out", whole)).routes[0]
    assert np.array_equal(back.lon_deg, whole.routes[0].lon_deg)


def test_a_result_of_the_first_edition_comes_back_as_rounded_there(tmp_path: Path) -> None:
    """Without the full figures and the names that were added since."""
    whole = make_analysis()
    folder = _folder(tmp_path / "out", whole)
    document = json.loads((folder / "result.json").read_text("utf-8"))
    del document["comparison"]
    for route in document["routes"]:
        for name in ("title", "spread_all", "events", "variants"):
            del route[name]
        for trace in route["traces"]:
            del trace["claimed_m"], trace["firmware"]
        for segment in route["segments"]:
            del segment["receivers"]
    (folder / "result.json").write_text(json.dumps(document), "utf-8")
    with np.load(folder / "arrays.npz") as arrays:
        kept = {name: arrays[name] for name in arrays.files if name != "figures" and "_pair" not in name}
    np.savez_compressed(folder / "arrays.npz", **kept)
    back = load_analysis(folder)
    assert result_document(back)["routes"][0]["traces"] == result_document(whole)["routes"][0]["traces"]
    assert back.routes[0].receivers[0].first_fix_s == whole.routes[0].receivers[0].first_fix_s
    assert [said(p.outcome) for p in back.routes[0].pairs] == [said(p.outcome) for p in whole.routes[0].pairs]
    assert differences(back.inputs, whole.inputs) == []
    assert back.problems == whole.problems


def test_the_same_analysis_gives_the_same_bytes_without_a_date(tmp_path: Path) -> None:
    write_arrays(make_analysis(), tmp_path / "a.npz")
    write_arrays(make_analysis(), tmp_path / "b.npz")
    assert (tmp_path / "a.npz").read_bytes() == (tmp_path / "b.npz").read_bytes()


def test_numpy_alone_reads_it(tmp_path: Path) -> None:
    whole = make_analysis()
    write_arrays(whole, tmp_path / "a.npz")
    with np.load(tmp_path / "a.npz", allow_pickle=False) as arrays:
        assert arrays["route0_offset_m"].shape == whole.routes[0].offset_m.shape
        assert arrays["route1_points_start"][-1] == sum(len(t.lon_deg) for t in whole.routes[1].traces)


@pytest.mark.parametrize("damage", ["missing", "text", "cut", "other", "pickle"])
def test_damaged_arrays_end_in_one_line(tmp_path: Path, damage: str) -> None:
    folder = _folder(tmp_path / "out", make_analysis())
    file = folder / "arrays.npz"
    whole = file.read_bytes()
    file.unlink()
    if damage == "text":
        file.write_text("no archive")
    elif damage == "cut":
        file.write_bytes(whole[: len(whole) // 2])
    elif damage == "other":
        write_arrays(make_analysis(traces=3), file)
    elif damage == "pickle":
        np.savez(file, route0_station_m=np.array([{"a": 1}], dtype=object))
    with pytest.raises(UnreadableFile, match="analyse the traces again") as caught:
        load_analysis(folder)
    assert "\n" not in str(caught.value)
    assert "arrays.npz" in str(caught.value)


def test_an_analysis_without_a_date_comes_back_without_one(tmp_path: Path) -> None:
    undated = dataclasses.replace(make_analysis(routes=1), created_s=float("nan"), published=True)
    back = load_analysis(_folder(tmp_path / "out", undated))
    assert np.isnan(back.created_s)
    assert back.published
