"""Folders that hold the watches of one ride apart are found by when and where their rides began."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from trackspread.cli import main
from world import Globe, Receiver, simulate
from world.files import gpx_text
from world.routes import rounded

COAST, INLAND = Globe(lon_deg=-87.3, lat_deg=75.15), Globe(lon_deg=-86.0, lat_deg=75.6)
CORNERS = np.array([(0, 0), (150, 260), (420, 380), (700, 700)], dtype=float)


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a folder a watch, two watches on the same rides, and the same days elsewhere."""
    root = tmp_path_factory.mktemp("archive")
    way = rounded(CORNERS, np.full(len(CORNERS), 30.0))
    for place, globe, names in (("coast", COAST, ["moss", "fern"]), ("inland", INLAND, ["moss"])):
        receivers = [Receiver(name=name) for name in names]
        for recording in simulate(way, seed=5, rides=3, receivers=receivers, globe=globe).recordings:
            folder = root / f"{place}-{recording.receiver.name}"
            folder.mkdir(exist_ok=True)
            (folder / f"{recording.ride + 1}.gpx").write_text(gpx_text(recording))
    return root


def test_a_layout_that_splits_the_watches_of_a_ride_is_told(
    archive: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["archive", str(archive), "--out", str(tmp_path / "out"), "--workers", "1"])
    told = capsys.readouterr().err
    assert ended.value.code == 0
    assert "coast-fern, coast-moss: ridden together, yet analysed apart" in told
    assert "inland" not in told


def test_one_campaign_of_watches_is_compared_whatever_their_names(archive: Path, tmp_path: Path) -> None:
    for name in ("coast-moss", "coast-fern"):
        shutil.copytree(archive / name, tmp_path / "all" / "spring" / name)
    with pytest.raises(SystemExit):
        main(["archive", str(tmp_path / "all"), "--out", str(tmp_path / "out"), "--workers", "1"])
    assert (tmp_path / "out" / "spring" / "result.json").is_file()
