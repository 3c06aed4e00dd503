"""The table of fields tells every attribute of every record, and no name twice."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator

import pytest

from trackspread.results.arrays import ACROSS, ALONG, BETWEEN, CLAIMED, POINTS, TAKEN
from trackspread.results.schema import RESULT
from trackspread.results.schema.fields import Group, Subject
from trackspread.results.schema.kinds import Kind, Many, Maybe

IN_ARRAYS = {*ALONG, *ACROSS, *BETWEEN, *POINTS, TAKEN, CLAIMED, "number"}


def _groups(kind: Kind) -> Iterator[Group]:
    if isinstance(kind, Many | Maybe):
        yield from _groups(kind.kind)
    elif isinstance(kind, Group):
        yield kind
        for entry in kind.fields:
            yield from _groups(entry.kind)


def _attributes(group: Group) -> Iterator[str]:
    for entry in group.fields:
        if isinstance(entry.kind, Group) and entry.attribute == ".":
            yield from _attributes(entry.kind)
        elif not entry.derived:
            yield entry.attribute
            yield from [entry.because] if entry.keeps_reason() else []


SUBJECTS = {group.name: group for group in _groups(RESULT) if isinstance(group, Subject)}


@pytest.mark.parametrize("name", SUBJECTS)
def test_every_attribute_of_a_record_is_written_and_read_back(name: str) -> None:
    record = SUBJECTS[name].record
    assert isinstance(record, type)
    wanted = {field.name for field in dataclasses.fields(record)} - IN_ARRAYS
    assert set(_attributes(SUBJECTS[name])) == wanted


def test_no_name_stands_twice_in_one_object() -> None:
    for group in _groups(RESULT):
        names = [entry.name for entry in group.fields]
        assert len(names) == len(set(names))
