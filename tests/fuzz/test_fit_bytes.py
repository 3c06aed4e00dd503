"""Changed, cut and mixed FIT bytes: never a traceback, never a hang.

``python -m fuzz.test_fit_bytes 300`` (from ``tests``) tries as many files as asked and prints what came of them.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter

import pytest

from trackspread.errors import UnreadableFile
from trackspread.readers import parse
from world.fit import activity

START_S = 1_940_911_200.0
LONGEST_S = 20.0


def seed_file(rng: random.Random) -> bytes:
    n = rng.randrange(1, 200)
    times = [START_S + i for i in range(n)]
    places = [None if rng.random() < 0.1 else (-87.3 + 1e-4 * i, 75.15) for i in range(n)]
    return activity(
        times, places, start_s=START_S, big=rng.random() < 0.3, accuracy_m=rng.choice([None, 3]),
        pauses=[(START_S + n // 2, START_S + n // 2 + 1)], sessions=[START_S] * rng.randrange(3),
    )  # fmt: skip


def changed(data: bytes, rng: random.Random) -> bytes:
    """Return bytes with a few changed, cut out, doubled or put in; the first twelve stay in most."""
    out = bytearray(data)
    for _ in range(rng.choice([1, 3, 10, 50])):
        at = rng.randrange(12 if rng.random() < 0.9 else 0, len(out))
        kind = rng.randrange(5)
        if kind < 3:
            out[at] = rng.choice([0, 1, 0x40, 0x60, 0x7F, 0x80, 0xFF, rng.randrange(256)])
        elif kind == 3:
            del out[at : at + rng.randrange(1, 9)]
        else:
            out[at:at] = out[at : at + rng.randrange(1, 99)]
        if len(out) < 14:
            break
    return bytes(out) + (data if rng.random() < 0.1 else b"")


def outcome(number: int) -> str:
    """Return what came of one changed file: traces, or the rule that it broke."""
    rng = random.Random(number)
    data = changed(seed_file(rng), rng)
    began_s = time.process_time()
    try:
        traces, _ = parse("a.fit", data, True)
    except UnreadableFile as error:
        said = str(error)
        assert "\n" not in said
        return error.problem.rule
    finally:
        assert time.process_time() - began_s < LONGEST_S
    for trace in traces:
        assert (abs(trace.lat_deg) <= 90.0).all()
        assert (abs(trace.lon_deg) <= 180.0).all()
        assert len(trace.time_s) == len(trace.lat_deg) == len(trace.break_before)
    return "traces"


@pytest.mark.parametrize("first", range(0, 300, 100))
def test_changed_bytes_give_traces_or_one_line(first: int) -> None:
    found = Counter(outcome(number) for number in range(first, first + 100))
    assert 10 < found["traces"] < 100


if __name__ == "__main__":
    print(Counter(outcome(number) for number in range(int(sys.argv[1]))).most_common())
