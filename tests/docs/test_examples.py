"""The examples in docstrings run, each module's in a folder that holds ``demo_routes``."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import matplotlib as mpl
import pytest
from documents import ROOT

import trackspread

mpl.use("agg")

SOURCE = Path(trackspread.__file__).parent


LONG = {"trackspread.api", "trackspread.model.notebook"}
"""Their examples analyse the demo many times."""


def with_examples() -> list[str]:
    """Return the names of all modules whose text holds an example."""
    files = [file for file in sorted(SOURCE.rglob("*.py")) if ">>> " in file.read_text("utf-8")]
    parts = [file.relative_to(SOURCE.parent).with_suffix("").parts for file in files]
    return [".".join(part for part in names if part != "__init__") for names in parts]


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=[pytest.mark.slow] * (name in LONG)) for name in with_examples()]
)
def test_examples_run(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "demo_routes").symlink_to(ROOT / "demo_routes")
    monkeypatch.chdir(tmp_path)
    result = doctest.testmod(importlib.import_module(name), optionflags=doctest.ELLIPSIS)
    assert result.attempted > 0
    assert result.failed == 0
