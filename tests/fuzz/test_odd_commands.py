"""Odd values for options: a sample of all of them, and those that once went wrong."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import pytest

from fuzz.odd_commands import cases, furnish, run

WENT_WRONG = [
    ("analyse", "rides", "--out", "out", "--min-traces", "9" * 400),  # OverflowError
    ("plan", "/dev/full"),  # read without end
    ("archive", "root", "--out", "\udcff"),  # a name that is not UTF-8: UnicodeEncodeError
    ("archive", "root", "--out", "out", "--scheduler", "\u202eright"),  # told raw
]


@pytest.mark.skipif(sys.platform != "linux", reason="devices, pipes and fork")
@pytest.mark.slow
def test_odd_values_cost_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("CACHE", "DATA"):
        monkeypatch.setenv(f"TRACKSPREAD_{name}", str(tmp_path / name.lower()))
    furnish(tmp_path)
    sample = random.Random(20261128).sample(list(cases()), 24)
    wrong = [seen for seen in run(tmp_path, [*WENT_WRONG, *sample]) if seen.wrong]
    assert wrong == []
