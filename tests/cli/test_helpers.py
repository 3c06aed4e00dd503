"""Processes beside this one: as many as asked for, and none left behind."""

from __future__ import annotations

import multiprocessing
import os

from trackspread.cli.helpers import cores, helpers


def test_no_more_cores_than_the_machine_has() -> None:
    assert 1 <= cores() <= (os.cpu_count() or 1)


def test_without_processes_there_is_no_executor() -> None:
    with helpers(0) as none:
        assert none is None


def test_a_process_works_and_goes() -> None:
    with helpers(1) as executor:
        assert executor is not None
        assert executor.submit(pow, 2, 10).result(60) == 1024
    assert multiprocessing.active_children() == []
