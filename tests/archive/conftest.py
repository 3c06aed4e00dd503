"""An archive of four routes."""

from __future__ import annotations

from pathlib import Path

import pytest

from world import simulate


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four route folders of three rides each, in two districts, and one that holds no trace."""
    root = tmp_path_factory.mktemp("archive")
    for number in range(4):
        world = simulate("winding", seed=number, rides=3, length_m=900.0)
        world.write_gpx(root / f"district {number % 2}" / f"route {number}")
    (root / "broken").mkdir()
    (root / "broken" / "nothing.gpx").write_text("<gpx></gpx>")
    return root
