"""Work in a process of its own: its result, its errors, its progress, and its end at any moment."""

from __future__ import annotations

import math
import time

import pytest

from child_work import dies, fails, halves, sleeps
from trackspread.errors import Cancelled, TrackspreadError
from trackspread.system.child import Child


def test_result_and_progress_come_back():
    told = []
    result = Child(["math"]).do(halves, math.pi, progress=lambda *words: told.append(words))
    assert result == math.pi / 2
    assert ("half", 0.5) in told


def test_error_comes_back():
    with pytest.raises(ValueError, match="as asked"):
        Child().do(fails, progress=lambda *words: None)


def test_death_is_told():
    with pytest.raises(TrackspreadError, match="ended by the system"):
        Child().do(dies, progress=lambda *words: None)


def test_it_ends_in_the_midst_of_work():
    begun = time.monotonic()

    def stop(phase, share):
        if time.monotonic() - begun > 1.0:
            raise Cancelled

    child = Child()
    with pytest.raises(Cancelled):
        child.do(sleeps, 60.0, progress=stop)
    assert time.monotonic() - begun < 20.0


def test_it_can_be_ended_unused():
    child = Child()
    child.end()
