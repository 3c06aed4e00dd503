"""Every module has a test file of its name, in the folder of its room."""

from __future__ import annotations

from pathlib import Path

import pytest

import trackspread

ROOT = Path(trackspread.__file__).parent
TESTS = Path(__file__).parent

MODULES = sorted(
    path.relative_to(ROOT).with_suffix("").as_posix()
    for path in ROOT.rglob("*.py")
    if not path.stem.startswith("__")
)


@pytest.mark.parametrize("name", MODULES)
def test_a_module_has_a_test_file_of_its_name(name: str) -> None:
    room, _, stem = name.rpartition("/")
    own = Path(room) / f"test_{stem}.py"
    assert (TESTS / own).exists(), f"{own} is missing"
