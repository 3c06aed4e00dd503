"""One table of the document a list of records: rows as many, columns in the order of their ranks."""

from __future__ import annotations

import pytest

from records import fuller, make_analysis
from trackspread.results.document import result_document
from trackspread.results.tables import COLUMNS, comparison_tables, inputs_table, route_tables

DOCUMENT = result_document(fuller(make_analysis()))
ROUTE = DOCUMENT["routes"][0]


def test_there_is_a_row_for_every_record() -> None:
    assert len(inputs_table(DOCUMENT).rows) == len(DOCUMENT["inputs"])
    tables = {table.name: table for table in route_tables(ROUTE)}
    for name in (
        "traces",
        "segments",
        "stretches",
        "events",
        "variants",
        "receivers",
        "pairs",
        "references",
        "film",
    ):
        assert len(tables[name].rows) == len(ROUTE[name]), name
    receivers = sum(len(segment["receivers"]) for segment in ROUTE["segments"])
    assert len(tables["segment_receivers"].rows) == receivers
    assert [len(table.rows) for table in comparison_tables(DOCUMENT)] == [2, 1]


def test_segments_by_watch_name_the_watch_and_its_figures() -> None:
    table = route_tables(ROUTE)[-1]
    told = [
        (segment["from_m"], segment["to_m"], own["receiver"], own["spread"]["value_m"], own["verdict"])
        for segment in ROUTE["segments"]
        for own in segment["receivers"]
    ]
    assert [
        (first, last, name, spread.value, verdict) for first, last, name, spread, verdict in table.rows
    ] == told


@pytest.mark.parametrize("table", [*route_tables(ROUTE), *comparison_tables(DOCUMENT)], ids=lambda t: t.name)
def test_no_two_rows_are_the_same(table) -> None:
    """Rows that are alike would have lost the column that tells them apart."""
    assert len({repr(row) for row in table.rows}) == len(table.rows)


@pytest.mark.parametrize("name", COLUMNS)
def test_columns_stand_in_the_order_of_their_ranks_and_no_name_stands_twice(name: str) -> None:
    columns = COLUMNS[name]
    assert [column.rank for column in columns] == sorted(column.rank for column in columns)
    heads = [head for column in columns for head in column.headers()]
    assert len(set(heads)) == len(heads)


def test_without_a_comparison_its_tables_are_empty() -> None:
    assert [table.rows for table in comparison_tables({})] == [(), ()]
