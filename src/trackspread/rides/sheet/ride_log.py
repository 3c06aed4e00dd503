"""Rows of a ride log, which name no file: matched to traces by watch and time."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

import numpy as np

from trackspread.errors import Problem
from trackspread.model import Trace
from trackspread.rides.at_once import Pair
from trackspread.rides.sheet.table import COLUMNS, Noted, Row, plain_name
from trackspread.rides.sheet.times import LIKELY_WAIT_S, LONGEST_DECLARED_WAIT_S, MOST_HOURS, moment_s

CLEAR_S = 60.0  # s by which the nearest ride must be nearer than the next
_NAME_IT = "name the file in the column file, or take the row out"


@dataclass(frozen=True, kw_only=True, slots=True)
class _Match:
    """A row, the trace of which it speaks, its copies, and how far from the noted time it begins, seconds."""

    row: Row
    trace: int
    copies: tuple[int, ...]
    apart_s: float


class _Unmatched(Exception):
    """A row speaks of no trace, or of several."""

    def __init__(self, row: Row, value: str, rule: str, remedy: str) -> None:
        super().__init__(rule)
        self.problem = _problem(row, value, rule, remedy)


def _problem(row: Row, value: str, rule: str, remedy: str) -> Problem:
    return Problem(file=row.sheet, place=f"line {row.line}", value=value, rule=rule, remedy=remedy)


def with_log(
    traces: Sequence[Trace], watches: Sequence[str], rows: Sequence[Row | None], noted: Sequence[Noted],
    copies: Sequence[Pair] = (), inferred: Sequence[bool] = (),
) -> tuple[list[Row | None], list[Problem]]:  # fmt: skip
    """Return the rows of the traces, with what a ride log says put into cells that are empty there.

    A row of the log speaks of a trace of its watch that runs at the noted time or begins within an hour
    after it; of several, of the one that begins nearest. It is not matched where another begins as near to
    within a minute, and then the problem names the row and what to do. A trace of an unknown watch can be
    that of any row. A name that no trace bears stands for the one inferred watch of its rides that the log
    does not name, where there is only one; a problem says so.

    Parameters
    ----------
    traces : sequence of Trace, length T
        All traces.
    watches : sequence of str, length T
        The watch of each trace, ``""`` where it is not known.
    rows : sequence of Row or None, length T
        What the table says of each trace by the name of its file.
    noted : sequence of Noted
        Rows of the log.
    copies : sequence of (int, int)
        Pairs of traces that are one recording in two files.
    inferred : sequence of bool, length T
        Whether the watch of each trace is what its file calls it, and nobody's own word.

    Returns
    -------
    rows : list of Row or None
    problems : list of Problem
        One for each row that is matched to no trace, and for each name that stands for another.
    """
    rides = _Rides(traces, watches, copies)
    stands_for = rides.other_names(noted, [name for name, yes in zip(watches, inferred, strict=False) if yes])
    problems = [_stands_for(noted, name, watch) for name, watch in stands_for.items()]
    nearest: dict[int, _Match] = {}
    for each in noted:
        try:
            match = rides.match(each, stands_for.get(plain_name(each.row.receiver), ""))
        except _Unmatched as unmatched:
            problems.append((each.row.line, unmatched.problem))
            continue
        if match.trace in nearest:
            match, other = sorted((nearest[match.trace], match), key=lambda m: (m.apart_s, m.row.line))
            rule = f"line {match.row.line} is nearer to {traces[match.trace].file}, the ride of this time"
            problems.append((other.row.line, _problem(other.row, _noted_at(other.row), rule, _NAME_IT)))
        nearest[match.trace] = match
    out = list(rows)
    for number, match in nearest.items():
        for i in (number, *match.copies):
            out[i] = _filled(rows[i], match.row)
    problems.sort(key=lambda told: (told[1].file, told[0]))
    return out, [problem for _, problem in problems]


class _Rides:
    """The traces among which rows are matched, with when each began and ended, seconds."""

    def __init__(self, traces: Sequence[Trace], watches: Sequence[str], copies: Sequence[Pair]) -> None:
        self._traces, self._watches = traces, watches
        self._begun_s = [_begun_s(trace) for trace in traces]
        self._ended_s = [_ended_s(trace) for trace in traces]
        self._copies: dict[int, list[int]] = defaultdict(list)
        for a, b in copies:
            self._copies[a].append(b)
            self._copies[b].append(a)

    def other_names(self, noted: Sequence[Noted], inferred: Iterable[str]) -> dict[str, str]:
        """Return for each name of the log that no trace bears the watch for which it can only stand.

        That watch is inferred, recorded at the time of every row of the name, and no row of the log names it.
        """
        named = {plain_name(each.row.receiver) for each in noted} - {""}
        free = {name for name in inferred if plain_name(name) not in named}
        left: dict[str, set[str]] = {}
        for each in noted:
            name = plain_name(each.row.receiver)
            if name not in named or name in map(plain_name, self._watches):
                continue
            with suppress(_Unmatched):
                at_s = _noted_at_s(each.row)
                here = {self._watches[i] for i in self._there(each) if self._fits(i, at_s)}
                if here:
                    left[name] = left.get(name, free) & (set() if "" in here else here)
        found: dict[str, str] = {}
        while sure := {name: min(watches) for name, watches in left.items() if len(watches) == 1}:
            claims = Counter(sure.values())
            found |= {name: watch for name, watch in sure.items() if claims[watch] == 1}
            left = {name: watches - set(claims) for name, watches in left.items() if name not in sure}
        return found

    def _there(self, noted: Noted) -> list[int]:
        return [i for i, trace in enumerate(self._traces) if trace.file in noted.files]

    def match(self, noted: Noted, watch: str = "") -> _Match:
        """Return the trace of which a row speaks; ``watch`` is what its name stands for, if another."""
        row = replace(noted.row, receiver=watch or noted.row.receiver)
        text, at_s = _noted_at(row), _noted_at_s(row)
        there = self._there(noted)
        own = [i for i in there if not row.receiver or _alike(row.receiver, self._watches[i])]
        if not any(self._fits(i, at_s) for i in own):
            own += [i for i in there if row.receiver and not self._watches[i]]
        if not own:
            names = ", ".join(sorted({self._watches[i] for i in there})) or "none"
            rule = f"the row names no file, and no trace is of this watch (there are: {names})"
            remedy = "write the watch as it is written there, or name the file"
            raise _Unmatched(row, row.receiver, rule, remedy)
        fitting = sorted((abs(self._begun_s[i] - at_s), i) for i in own if self._fits(i, at_s))
        if not fitting:
            rule = "the row names no file, and no ride of this watch begins within an hour after this time"
            rule += _other_zone((self._begun_s[i] for i in own), at_s)
            raise _Unmatched(row, text, rule, f"correct the time, or {_NAME_IT}")
        apart_s, number = fitting[0]
        copies = tuple(i for i in self._copies[number] if i in own)
        near = {i for other_s, i in fitting if other_s - apart_s < CLEAR_S} - set(copies)
        if len(near) > 1:
            files = ", ".join(sorted(self._traces[i].file for i in near)[:3])
            rule = f"the row names no file, and {len(near)} rides begin at this time ({files})"
            raise _Unmatched(row, text, rule, "name the file or the watch")
        name = row.receiver and (self._watches[number] or row.receiver)
        named = replace(row, receiver="" if watch else name)
        return _Match(row=named, trace=number, copies=copies, apart_s=apart_s)

    def _fits(self, trace: int, at_s: float) -> bool:
        begun_s = self._begun_s[trace]
        return begun_s - LONGEST_DECLARED_WAIT_S <= at_s <= self._ended_s[trace]


def _begun_s(trace: Trace) -> float:
    """Return when a recording began: by its own start, or else by its first point."""
    return trace.start_s if math.isfinite(trace.start_s) else trace.first_time_s()


def _ended_s(trace: Trace) -> float:
    return float(np.nanmax(trace.time_s)) if np.isfinite(trace.first_time_s()) else math.nan


def _noted_at(row: Row) -> str:
    return row.start_pressed or row.fix_seen


def _noted_at_s(row: Row) -> float:
    column = "start_pressed" if row.start_pressed else "fix_seen"
    try:
        return moment_s(_noted_at(row), math.nan, column)
    except ValueError:
        rule = f"{column} of a row without a file needs date and time, such as 2031-03-03T07:00:00Z"
        raise _Unmatched(row, _noted_at(row), rule, "correct the cell, or name the file") from None


def _alike(name: str, other: str) -> bool:
    return plain_name(name) == plain_name(other)


def _stands_for(noted: Sequence[Noted], name: str, watch: str) -> tuple[int, Problem]:
    """Say for which watch a name of the log is taken, at its first row."""
    row = next(each.row for each in noted if plain_name(each.row.receiver) == name)
    rule = f"inferred: this name stands for {watch}, the only watch of its rides that the log does not name"
    remedy = f"write {watch} there, or name the files if that is wrong"
    return row.line, _problem(row, row.receiver, rule, remedy)


def _other_zone(begun_s: Iterable[float], at_s: float) -> str:
    """Say so where a ride begins whole hours off, as by a clock in another time zone."""
    for begun in sorted(filter(math.isfinite, begun_s), key=lambda begun: abs(begun - at_s)):
        hours, rest = divmod(begun - at_s, 3600.0)
        if rest <= LIKELY_WAIT_S and 1 <= abs(hours) <= MOST_HOURS:
            at = datetime.fromtimestamp(begun, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
            way = "later" if hours > 0 else "earlier"
            return f" (one begins {abs(hours):.0f} h {way}, at {at}: another time zone or summer time)"
    return ""


def _filled(row: Row | None, log: Row) -> Row:
    """Return what the table says of a trace, with the log's answers where it says nothing."""
    if row is None:
        return log
    cells: dict[str, Any] = {name: getattr(row, name) or getattr(log, name) for name in COLUMNS}
    cells["other"] = tuple((dict(log.other) | {name: cell for name, cell in row.other if cell}).items())
    if not row.start_pressed and not row.fix_seen:
        cells |= {"sheet": log.sheet, "line": log.line}
    return replace(row, **cells)
