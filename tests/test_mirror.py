"""Every module has a test file of its name, in the folder of its room."""

from __future__ import annotations

from pathlib import Path

import pytest

import trackspread

ROOT = Path(trackspread.__file__).parent
TESTS = Path(__file__).parent

ELSEWHERE = {
    "cli/drop": "web/test_server.py",
    "web/session": "web/test_server.py",
}
"""Parts that a test of something larger covers: commands, pages, tables of the schema."""

MODULES = sorted(
    path.relative_to(ROOT).with_suffix("").as_posix()
    for path in ROOT.rglob("*.py")
    if not path.stem.startswith("__")
)


@pytest.mark.parametrize("name", MODULES)
def test_a_module_has_a_test_file_of_its_name(name: str) -> None:
    room, _, stem = name.rpartition("/")
    own = Path(room) / f"test_{stem}.py"
    if name in ELSEWHERE:
        assert not (TESTS / own).exists(), f"{own} is there: take {name} off the list"
        own = Path(ELSEWHERE[name])
    assert (TESTS / own).exists(), f"{own} is missing"


def test_the_list_names_modules_that_there_are() -> None:
    assert set(ELSEWHERE) <= set(MODULES)
