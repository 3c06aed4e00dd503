"""arrays.npz: readable with NumPy alone, the same bytes twice, and a folder read back into an analysis."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from records import make_analysis
from trackspread import model as m
from trackspread.errors import UnreadableFile
from trackspread.results.arrays import ACROSS, ALONG, POINTS, load_analysis, write_arrays
from trackspread.results.document import result_document, result_text


def _folder(path: Path, analysis: m.Analysis) -> Path:
    path.mkdir()
    (path / "result.json").write_text(result_text(result_document(analysis)), encoding="utf-8")
    write_arrays(analysis, path / "arrays.npz")
    return path


@pytest.mark.parametrize("hostile", [False, True])
def test_a_folder_comes_back_as_it_was(tmp_path: Path, hostile: bool) -> None:
    whole = make_analysis(hostile=hostile)
    back = load_analysis(_folder(tmp_path / "out", whole))
    assert back.created_s == whole.created_s
    assert back.settings == whole.settings
    for before, after in zip(whole.routes, back.routes, strict=True):
        for name in (*ALONG, *ACROSS):
            np.testing.assert_allclose(getattr(after, name), getattr(before, name), rtol=1e-6, atol=1e-5)
        for old, new in zip(before.traces, after.traces, strict=True):
            for name in POINTS:
                np.testing.assert_array_equal(getattr(new, name), getattr(old, name))
            assert (new.number, new.file, new.receiver, new.ride) == (
                old.number,
                old.file,
                old.receiver,
                old.ride,
            )
        assert [s.number for s in after.stretches] == [s.number for s in before.stretches]
        assert [s.verdict for s in after.segments] == [s.verdict for s in before.segments]
        assert [(f.from_m, f.to_m, f.verdict, f.why) for f in after.film] == [
            (f.from_m, f.to_m, f.verdict, f.why) for f in before.film
        ]


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
