"""A job tells how far it is, stops when asked, and never throws at the page."""

from __future__ import annotations

import threading
import time

import pytest

from trackspread.errors import NothingToAnalyse
from trackspread.web.job import Job


def ended(job):
    for _ in range(400):
        if not job.running:
            return job
        time.sleep(0.01)
    raise AssertionError("still running")


def test_result_and_progress():
    gate = threading.Event()

    def work(progress, show):
        progress("first", 0.5)
        gate.wait(5)
        progress("second", 0.25)
        return 42

    job = Job("run", work)
    while not job.share:
        time.sleep(0.01)
    assert (job.state, job.phase, job.share, job.result) == ("running", "first", 0.5, None)
    gate.set()
    ended(job)
    assert (job.state, job.phase, job.result) == ("done", "second", 42)
    assert job.share == 0.5, "the share never falls"


def test_time_left_is_that_of_an_even_pace():
    def work(progress, show):
        for done in range(1, 41):
            time.sleep(0.05)
            progress("on its way", done / 40)

    begun = time.monotonic()
    job, told = Job("run", work), []
    while job.running:
        if (left := job.seconds_left) is not None:
            told.append((time.monotonic() - begun, left))
        time.sleep(0.02)
    whole = time.monotonic() - begun
    assert told
    assert told[0][0] >= 1.0, "nothing is said before it can be known"
    assert all(abs(gone + left - whole) < 0.3 * whole for gone, left in told)
    assert job.seconds_left is None


def test_cancelled_at_the_next_step():
    steps = []

    def work(progress, show):
        for step in range(1000):
            progress("step", step / 1000)
            steps.append(step)
            time.sleep(0.01)

    job = Job("run", work)
    while len(steps) < 3:
        time.sleep(0.01)
    job.cancel(wait_s=5)
    assert job.state == "cancelled"
    assert job.result is None
    assert len(steps) < 100


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (NothingToAnalyse("no route with two traces"), "no route with two traces"),
        (OSError(28, "No space left on device"), "No space left on device"),
        (MemoryError(), "memory"),
        (ZeroDivisionError("secret detail"), "ZeroDivisionError"),
    ],
)
def test_failure_is_told_in_words(error, words, capsys):
    def work(progress, show):
        raise error

    job = ended(Job("run", work))
    assert job.state == "failed"
    assert words in job.error
    assert "secret detail" not in job.error
    assert ("Traceback" in capsys.readouterr().err) == isinstance(error, ZeroDivisionError)


def test_what_is_known_is_shown_before_the_end():
    gate = threading.Event()

    def work(progress, show):
        show("the first half")
        gate.wait(5)
        return "all"

    job = Job("run", work)
    while not job.steps:
        time.sleep(0.01)
    assert (job.state, job.shown, job.result, job.steps) == ("running", "the first half", None, 1)
    gate.set()
    ended(job)
    assert (job.state, job.shown, job.result, job.steps) == ("done", "all", "all", 2)


def test_what_was_shown_of_a_job_that_was_stopped_is_gone():
    def work(progress, show):
        show("the first half")
        for _ in range(500):
            time.sleep(0.01)
            progress("on its way", 0.5)

    job = Job("run", work)
    while not job.steps:
        time.sleep(0.01)
    job.cancel(5)
    assert (job.state, job.shown) == ("cancelled", None)
