"""Results changed at random after they were written are taken or refused in one line, by everything that reads them."""

from __future__ import annotations

from pathlib import Path

import pytest

from fuzz.changed_results import made, run


@pytest.mark.filterwarnings("ignore")
@pytest.mark.slow
def test_a_changed_result_is_taken_or_refused(tmp_path: Path) -> None:
    counts, failures = run(made(tmp_path / "sound"), 25, seed=20261128)
    assert failures == []
    assert counts["taken"]
    assert counts["refused"]
