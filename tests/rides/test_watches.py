"""Which watch made a trace: by device, by program, by a word in the file names; and when nothing tells."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trackspread.model import Device, Trace
from trackspread.rides.watches import device_names, pattern_names, proposed_name, writer_names


def trace(file: str, *, device: Device | None = None, receiver: str = "", north: float = 75.0) -> Trace:
    """A short way east; all run from one place to another."""
    n = 5
    return Trace(
        file=file, format="GPX 1.1", time_s=np.arange(float(n)), lon_deg=-87.3 + 1e-4 * np.arange(n),
        lat_deg=np.full(n, north), elevation_m=np.full(n, np.nan), break_before=np.zeros(n, dtype=bool),
        receiver=receiver, device=device or Device(),
    )  # fmt: skip


def test_devices_of_one_product_are_told_apart_by_their_serial_numbers() -> None:
    traces = [
        trace("a", device=Device(product="Sedge 2", serial="10004711")),
        trace("b", device=Device(product="Sedge 2", serial="10004712")),
        trace("c", device=Device(product="Moss", serial="1")),
        trace("d", device=Device(maker="fern works", product="23", serial="9")),
        trace("e", device=Device(serial="77")),
        trace("f", receiver="named"),
        trace("g", device=Device(writer="a program")),
    ]
    assert device_names(traces) == [
        "Sedge 2 4711", "Sedge 2 4712", "Moss", "fern works 23", "serial 77", "named", "",
    ]  # fmt: skip


def written(*writers: str) -> list[Trace]:
    return [trace(f"{k}.gpx", device=Device(writer=writer)) for k, writer in enumerate(writers)]


@pytest.mark.parametrize(
    ("writers", "clashes", "known"),
    [
        (["p", "p", "p"], [], True),
        (["p", "q", "p", "q"], [(0, 1), (2, 3)], True),
        (["p", "q", "p", "q"], [], False),
        (["p", "p"], [(0, 1)], False),
        (["p", "q", "p", "p"], [(0, 1), (2, 3)], False),
    ],
    ids=["one program", "two at once", "two on other days", "one program at once", "at odds"],
)
def test_a_program_is_a_watch_only_with_evidence(
    writers: list[str], clashes: list[tuple[int, int]], known: bool
) -> None:
    traces = written(*writers)
    found = writer_names(traces, range(len(traces)), clashes)
    assert found == (dict(enumerate(writers)) if known else {})


NAMES = [
    f"{way}_{ride}_{watch}.gpx" for way in ("out", "back") for ride in (1, 2) for watch in ("moss", "fern")
]
AT_ONCE = [(0, 1), (2, 3), (4, 5), (6, 7)]


def labels(names: list[str], clashes: list[tuple[int, int]], north: float = 0.0) -> list[str]:
    traces = [trace(name) for name in names]
    traces = [replace(t, lat_deg=t.lat_deg + north * ("back" in t.file)) for t in traces]
    found = pattern_names(traces, range(len(names)), clashes)
    return [found.get(i, "") for i in range(len(names))]


def test_the_word_in_which_recordings_made_at_once_differ_is_the_watch() -> None:
    assert labels(NAMES, AT_ONCE) == ["moss", "fern"] * 4


def test_words_with_a_short_number() -> None:
    names = [f"2031-07-0{day} w{watch}.fit" for day in (1, 2, 3) for watch in (1, 2)]
    assert labels(names, [(0, 1), (2, 3), (4, 5)]) == ["w1", "w2"] * 3


def test_a_beginning_of_names() -> None:
    names = [f"{watch}20310704{hour}0000.gpx" for hour in (10, 12, 14) for watch in ("Moss", "Fern", "Reed")]
    pairs = [(3 * k + i, 3 * k + j) for k in range(3) for i, j in ((0, 1), (0, 2), (1, 2))]
    assert labels(names, pairs) == ["moss", "fern", "reed"] * 3


def test_without_anything_at_once_one_word_must_do_and_ways_are_no_watches() -> None:
    names = [f"{watch}_{day}.gpx" for watch in ("moss", "fern") for day in (1, 2, 3)]
    assert labels(names, []) == ["moss"] * 3 + ["fern"] * 3
    ways = [f"{way}_{day}.gpx" for way in ("out", "back") for day in (1, 2, 3)]
    assert labels(ways, [], north=0.1) == [""] * 6
    assert labels(NAMES, []) == [""] * 8  # either word may be the watch


def test_what_nothing_tells_stays_unknown() -> None:
    assert labels(["a.gpx", "b.gpx", "c.gpx", "d.gpx"], [(0, 1), (2, 3)]) == [""] * 4
    assert labels(["1.gpx", "2.gpx", "3.gpx", "4.gpx"], [(0, 1), (2, 3)]) == [""] * 4
    assert labels([], []) == []


def test_a_proposed_name() -> None:
    assert proposed_name(trace("a", device=Device(writer="a program"))) == "a program"
    assert proposed_name(trace("a", device=Device(product="Moss", writer="a program"))) == "Moss"
