"""Every file of a published folder is opened, and holds no position near a start or an end.

Text is searched for all pairs of neighbouring numbers in both orders and for arrays named lon and lat, layers
by geometry, and every file as bytes for pairs of binary numbers. The same search finds the doors in a folder
that was not cut.
"""

from __future__ import annotations

import io
import json
import random
import zipfile
from pathlib import Path

import numpy as np
import pytest

from records import make_analysis
from searching import LEAST_M, WGS84, Positions, corners, embedded, positions_in, within
from trackspread import model as m
from trackspread.api import write_report
from trackspread.film.canvas import ASPECT
from trackspread.film.storyboard import flat, scenes
from trackspread.film.write import write_film
from trackspread.publish.cut import cut_for_publishing


@pytest.fixture(scope="module")
def whole() -> m.Analysis:
    return make_analysis()


@pytest.fixture(scope="module")
def published(whole: m.Analysis) -> m.Analysis:
    return cut_for_publishing(whole, rng=random.Random(7), hide_dates=True)


@pytest.fixture(scope="module")
def folders(
    whole: m.Analysis, published: m.Analysis, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Path]:
    base = tmp_path_factory.mktemp("folders")
    for name, analysis in (("private", whole), ("published", published)):
        write_report(analysis, base / name)
        write_film(scenes(analysis, ASPECT), base / name, sizes=(1080,))
    return {path.name: path for path in base.iterdir()}


@pytest.fixture(scope="module")
def doors(whole: m.Analysis) -> Positions:
    """Ends of centrelines, and the first and last points of traces near them."""
    lines = [(r.lon_deg[i], r.lat_deg[i]) for r in whole.routes for i in (0, -1)]
    points = [(t.lon_deg[i], t.lat_deg[i]) for r in whole.routes for t in r.traces for i in (0, -1)]
    near = [p for p in points if min(WGS84.inv(*p, *end)[2] for end in lines) < LEAST_M]
    return np.array(lines + near)


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file())


def test_the_folders_have_all_kinds_of_files(folders: dict[str, Path]) -> None:
    names = {path.name for path in _files(folders["published"])}
    assert {"report.html", "map.html", "result.json", "layers.gpkg", "arrays.npz", "sequence.html"} <= names
    assert {path.suffix for path in _files(folders["published"])} >= {
        ".html",
        ".json",
        ".csv",
        ".gpkg",
        ".npz",
        ".png",
    }


def test_no_file_holds_a_position_near_a_door(
    folders: dict[str, Path], doors: Positions, published: m.Analysis
) -> None:
    boxes = corners(published)
    for file in _files(folders["published"]):
        for positions in positions_in(file):
            near = [p for p in within(positions, doors) if (round(p[0], 4), round(p[1], 4)) not in boxes]
            assert not near, (file.name, near[:5])


@pytest.mark.parametrize(
    "name", ["report.html", "map.html", "result.json", "layers.gpkg", "arrays.npz", "stations.csv"]
)
def test_the_search_finds_the_doors_where_nothing_was_cut(
    folders: dict[str, Path], doors: Positions, name: str
) -> None:
    (file,) = folders["private"].rglob(name)
    found = np.concatenate([within(positions, doors) for positions in positions_in(file)])
    for lon, lat in doors[:4]:
        assert min(WGS84.inv(*p, lon, lat)[2] for p in found) < 1.0


@pytest.mark.parametrize("kind", ["private", "published"])
def test_the_sequence_draws_nothing_near_a_door_once_it_is_cut(
    folders: dict[str, Path], doors: Positions, whole: m.Analysis, published: m.Analysis, kind: str
) -> None:
    """Its lengths are decimetres from the middle of each route, which is shown."""
    analysis = {"private": whole, "published": published}[kind]
    page = (folders[kind] / "sequence.html").read_text("utf-8")
    data = json.loads(page.split('id="data">')[1].split("</script>")[0])
    nearest = []
    for route, scene in zip(analysis.routes, data["scenes"], strict=True):
        middle = len(route.lon_deg) // 2
        x, y = flat(doors[:, 0], doors[:, 1], (float(route.lon_deg[middle]), float(route.lat_deg[middle])))
        for line in (scene, *scene["paths"]):
            east, north = np.cumsum(line["x"]) / 10, np.cumsum(line["y"]) / 10
            nearest.append(np.hypot(east[:, None] - x, north[:, None] - y).min())
    assert (min(nearest) >= LEAST_M - 0.5) == (kind == "published")


def test_pictures_carry_no_texts(folders: dict[str, Path]) -> None:
    from PIL import Image

    for file in folders["published"].rglob("*.png"):
        with Image.open(file) as picture:
            assert set(picture.info) <= {"dpi"}, file.name


def test_no_file_holds_a_name_or_a_date_of_a_recording(folders: dict[str, Path], whole: m.Analysis) -> None:
    secrets = {record.file for record in whole.inputs} | {"2025-12", "2026-01-01", "2025-11"}
    for file in _files(folders["published"]):
        data = file.read_bytes()
        if file.suffix == ".npz":
            with zipfile.ZipFile(io.BytesIO(data)) as archive:
                data = b"".join(archive.read(name) for name in archive.namelist())
        for text in embedded(data.decode("utf-8", "replace")):
            assert not [secret for secret in secrets if secret in text], file.name


def test_no_time_of_day_is_left_in_arrays(folders: dict[str, Path]) -> None:
    with np.load(folders["published"] / "arrays.npz") as arrays:
        for name in arrays.files:
            if name.endswith("_s"):
                assert np.nanmax(np.abs(arrays[name]), initial=0.0) < 86_400


def test_axes_and_tables_end_where_the_cut_route_does(
    folders: dict[str, Path], whole: m.Analysis, published: m.Analysis
) -> None:
    document = json.loads((folders["published"] / "result.json").read_text("utf-8"))
    for before, after, route in zip(whole.routes, published.routes, document["routes"], strict=True):
        assert route["length_m"] == round(after.length_m)
        assert route["length_m"] < before.length_m - 2 * LEAST_M
        assert max(segment["to_m"] for segment in route["segments"]) <= after.length_m + 0.1
        assert route["grid"]["proj4"].startswith("withheld")
        for trace in route["traces"]:
            assert trace["first_fix"]["at_station_m"] is None
            assert trace["first_fix"]["at_station_m_reason"].startswith("withheld")
