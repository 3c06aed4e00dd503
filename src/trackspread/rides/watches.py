"""Which watch recorded a trace, where nobody says so: by device, by the writing program, by file names."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from pathlib import PurePath

import numpy as np

from trackspread.errors import printable
from trackspread.geometry.sphere import places_m
from trackspread.model import Trace

Pair = tuple[int, int]
LONGEST = 60  # characters of a name
NEAR_PLACE_M = 300.0  # m between ends of rides that lead the same way
LEAST_FILES = 2  # files that make a pattern in names
_WORD = re.compile(r"[^\W_]+")
_LEADING = re.compile(r"[^\W\d_]+")
_NUMBERED = re.compile(r"[^\W\d_]+(?:\d{1,2}(?!\d))?")


def device_names(traces: Sequence[Trace]) -> list[str]:
    """Return the device that each file names itself, ``""`` where it names none.

    Devices of one product are told apart by the last four signs of their serial numbers.

    Parameters
    ----------
    traces : sequence of Trace, length T
        All traces.

    Returns
    -------
    list of str, length T
    """
    serials: defaultdict[str, set[str]] = defaultdict(set)
    for trace in traces:
        serials[_product(trace)].add(trace.device.serial)
    names = [_product(trace) for trace in traces]
    return [
        f"{name} {trace.device.serial[-4:]}".strip() if name and len(serials[name]) > 1 else name
        for name, trace in zip(names, traces, strict=True)
    ]


def _product(trace: Trace) -> str:
    device = trace.device
    named = trace.receiver or device.product
    if not named or named.isdecimal():
        named = " ".join(part for part in (device.maker, named) if part)
    return printable(named or (device.serial and f"serial {device.serial}"), LONGEST).strip()


def writer_names(traces: Sequence[Trace], asked: Sequence[int], clashes: Sequence[Pair]) -> dict[int, str]:
    """Return the program that wrote each file, where there is evidence that each wrote for one watch.

    That is where recordings made at once, of which each is of another watch, are of different programs; or
    where all files are of one program and none were made at once.

    Parameters
    ----------
    traces : sequence of Trace
        All traces.
    asked : sequence of int
        Numbers of the traces that ask.
    clashes : sequence of (int, int)
        Pairs of traces that were recorded at once by two watches.

    Returns
    -------
    dict of int to str
        By the number of the trace; empty without evidence.
    """
    names = {i: traces[i].device.writer for i in asked if traces[i].device.writer}
    inside = [(i, j) for i, j in clashes if i in names and j in names]
    if any(names[i] == names[j] for i, j in inside):
        return {}
    return names if inside or len(set(names.values())) == 1 else {}


def proposed_name(trace: Trace) -> str:
    """Return a name where nothing tells for sure: the device, or the program that wrote the file.

    Parameters
    ----------
    trace : Trace
        Of a watch that nobody names.

    Returns
    -------
    str
        ``""`` where the file names neither.
    """
    return _product(trace) or printable(trace.device.writer, LONGEST).strip()


def pattern_names(traces: Sequence[Trace], asked: Sequence[int], clashes: Sequence[Pair]) -> dict[int, str]:
    """Return the word of each file's name that tells the watches apart, nothing where none does.

    A word at one place of all names (counted from the front or from the back, with or without a short
    number) tells them apart where recordings made at once differ in it. Where nothing was made at once, it
    must be the only such word, and each must have rides from the same start to the same end as another.
    Every watch has two files at least.

    Parameters
    ----------
    traces : sequence of Trace
        All traces.
    asked : sequence of int
        Numbers of the traces that ask.
    clashes : sequence of (int, int)
        Pairs of traces that were recorded at once by two watches.

    Returns
    -------
    dict of int to str
        By the number of the trace; empty where no word tells.
    """
    if len(asked) < 2 * LEAST_FILES:
        return {}
    stems = [_words(traces[i].file) for i in asked]
    place = {i: k for k, i in enumerate(asked)}
    inside = [(place[i], place[j]) for i, j in clashes if i in place and j in place]
    found: dict[tuple[int, ...], list[str]] = {}
    for labels in _labellings(stems):
        counts = Counter(labels)
        if len(counts) < 2 or min(counts.values()) < LEAST_FILES:
            continue
        if any(labels[i] == labels[j] for i, j in inside):
            continue
        order = {label: number for number, label in enumerate(dict.fromkeys(labels))}
        found.setdefault(tuple(order[label] for label in labels), labels)
    if not inside:
        found = {key: labels for key, labels in found.items() if _meet(traces, asked, labels)}
        best = list(found.values()) if len(found) == 1 else []
    else:
        fewest = min((max(key) for key in found), default=0)
        best = [labels for key, labels in found.items() if max(key) == fewest]
    return dict(zip(asked, best[0], strict=True)) if len(best) == 1 else {}


def _words(file: str) -> list[str]:
    stem = PurePath(file.replace("\\", "/")).name
    return _WORD.findall(stem.removesuffix(".gz").rpartition(".")[0].casefold())


def _labellings(names: Sequence[Sequence[str]]) -> Iterator[list[str]]:
    """Yield one word of each name at a time, where all have one with letters there."""
    for place in range(min(map(len, names), default=0)):
        for at in (place, -1 - place):
            words = [name[at] for name in names]
            for pattern in (_NUMBERED, _LEADING):
                found = [pattern.match(word) for word in words]
                if all(found):
                    yield [match[0] for match in found if match]


def _meet(traces: Sequence[Trace], asked: Sequence[int], labels: Sequence[str]) -> bool:
    """Return whether each label has a trace that runs from where to where one of another label does."""
    ends = np.stack([_ends(traces[i]) for i in asked])
    near = (np.linalg.norm(ends[:, None] - ends[None, :], axis=3) < NEAR_PLACE_M).all(axis=2)
    other = np.array([[a != b for b in labels] for a in labels])
    met = (near & other).any(axis=1)
    return set(_of(labels, met)) == set(labels)


def _of(labels: Sequence[str], chosen: Iterable[bool]) -> list[str]:
    return [label for label, yes in zip(labels, chosen, strict=True) if yes]


def _ends(trace: Trace) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    return places_m(trace.lon_deg[[0, -1]], trace.lat_deg[[0, -1]])
