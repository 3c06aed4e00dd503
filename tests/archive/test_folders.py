"""Which folders are routes: watches of a campaign are compared, routes of a region are not taken for watches."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from trackspread.archive.folders import passed_over, route_folders, split_campaigns
from trackspread.archive.run import analyse_archive
from world import Globe, Receiver, simulate
from world.files import gpx_text
from world.routes import rounded

COAST, INLAND = Globe(lon_deg=-87.3, lat_deg=75.15), Globe(lon_deg=-86.0, lat_deg=75.6)


# Corners (east, north), metres: two ways from one place, a kilometre apart at their ends.
MILL = np.array([(0, 0), (150, 260), (420, 380), (700, 700)], dtype=float)
PIER = np.array([(0, 0), (260, -90), (500, 20), (900, -300)], dtype=float)


def ridden(
    folder: Path, corners: np.ndarray, globe: Globe = COAST, name: str = "moss", seed: int = 1
) -> None:
    """Write three rides of one invented watch."""
    folder.mkdir(parents=True, exist_ok=True)
    route = rounded(corners, np.full(len(corners), 30.0))
    world = simulate(route, seed=seed, rides=3, receivers=[Receiver(name=name)], globe=globe)
    for recording in world.recordings:
        (folder / f"{recording.ride + 1}.gpx").write_text(gpx_text(recording))


def found(root: Path) -> list[str]:
    return [str(folder.relative_to(root)) for folder in route_folders(root)]


@pytest.fixture(scope="module")
def campaigns(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("campaigns")
    for campaign, watch in ((c, w) for c in ("may", "june") for w in ("moss", "Ferns")):
        ridden(root / campaign / watch, MILL, name=watch, seed=len(watch))
    return root


def test_a_folder_a_campaign_and_a_sub_folder_a_watch_are_one_analysis(
    campaigns: Path, tmp_path: Path
) -> None:
    assert found(campaigns) == ["june", "may"]
    assert split_campaigns(campaigns, route_folders(campaigns)) == []
    outcomes = analyse_archive(campaigns, tmp_path / "out")
    assert [(one.name, one.state, one.rows[0]["receivers"]) for one in outcomes] == [
        ("june", "done", 2), ("may", "done", 2)
    ]  # fmt: skip


def test_routes_of_one_name_in_two_regions_are_no_watches(tmp_path: Path) -> None:
    """Each region has a route called mill and one of its own: the same names, other ways."""
    ridden(tmp_path / "coast" / "mill", MILL)
    ridden(tmp_path / "coast" / "pier", PIER)
    ridden(tmp_path / "inland" / "mill", MILL, INLAND)
    ridden(tmp_path / "inland" / "fort", PIER, INLAND)
    assert found(tmp_path) == ["coast/mill", "coast/pier", "inland/fort", "inland/mill"]
    assert [folder.name for folder in split_campaigns(tmp_path, route_folders(tmp_path))] == [
        "coast",
        "inland",
    ]


def test_out_and_back_in_two_folders_are_no_watches(tmp_path: Path) -> None:
    for region, globe in (("coast", COAST), ("inland", INLAND)):
        ridden(tmp_path / region / "out", PIER, globe)
        (tmp_path / region / "back").mkdir()
        for file in (tmp_path / region / "out").iterdir():
            (tmp_path / region / "back" / file.name).write_text(turned(file.read_text()))
    assert found(tmp_path) == ["coast/back", "coast/out", "inland/back", "inland/out"]


def turned(text: str) -> str:
    """Return a GPX with the places of its points in the other order, the times as they are."""
    parts = text.split("<trkpt ")
    places = [part.partition(">")[0] for part in parts[1:]]
    rest = [part.partition(">")[2] for part in parts[1:]]
    return parts[0] + "".join(f"<trkpt {p}>{r}" for p, r in zip(reversed(places), rest, strict=True))


def test_sub_folders_of_names_of_their_own_are_told_as_split(tmp_path: Path) -> None:
    ridden(tmp_path / "north" / "first", MILL)
    ridden(tmp_path / "north" / "second", MILL, seed=2)
    assert found(tmp_path) == ["north/first", "north/second"]
    assert [folder.name for folder in split_campaigns(tmp_path, route_folders(tmp_path))] == ["north"]


def test_what_lies_beside_the_route_folders_is_told(tmp_path: Path) -> None:
    ridden(tmp_path / "coast" / "mill", MILL)
    (tmp_path / "coast" / "pier").symlink_to(tmp_path / "nowhere")
    (tmp_path / "stray.gpx").write_text("<gpx/>")
    (tmp_path / "notes.txt").write_text("dry")
    told = passed_over(tmp_path, route_folders(tmp_path))
    assert [(str(path.relative_to(tmp_path)), why[:25]) for path, why in told] == [
        ("stray.gpx", "it lies beside the route "), ("coast/pier", "this link leads nowhere; "),
    ]  # fmt: skip
