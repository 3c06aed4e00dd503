"""Interruptions that fall into a destructor: heard a moment later, and none leaves a traceback."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest

from trackspread.system.signals import undisturbed

CHILD = """
import signal, sys, time
from trackspread.system.signals import heard_everywhere, interrupted_by, was_interrupted

class Slow:
    def __del__(self):
        end = time.monotonic() + 0.01
        while time.monotonic() < end:
            pass

heard_everywhere()
print("ready", flush=True)
interrupted_by("SIGINT")
end = time.monotonic() + 1.5

def loop():
    while time.monotonic() < end:
        Slow()
    signal.signal(signal.SIGINT, signal.SIG_IGN)

def patient(work):
    while True:
        try:
            return work()
        except KeyboardInterrupt:
            pass

patient(lambda: patient(lambda: patient(loop)))  # one may fall where another is caught
print(was_interrupted(), flush=True)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no such signals there")
def test_bursts_of_interruptions_leave_no_traceback() -> None:
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "ready\n"
    time.sleep(0.1)
    until = time.monotonic() + 1.0
    while time.monotonic() < until:
        child.send_signal(signal.SIGINT)
        time.sleep(0.0005)
    heard, said = child.communicate(timeout=30)
    assert (heard, said, child.returncode) == ("True\n", "", 0)


def test_an_interruption_waits_until_files_have_changed_places() -> None:
    steps = []

    def work() -> None:
        with undisturbed():
            os.kill(os.getpid(), signal.SIGINT)
            steps.append("done")
        steps.append("never")

    before = signal.signal(signal.SIGINT, signal.default_int_handler)  # a run in the background ignores it
    try:
        with pytest.raises(KeyboardInterrupt):
            work()
        assert steps == ["done"]
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, before)
