"""Tables of the page: what is read, what is sorted by, and what is saved."""

from __future__ import annotations

from records import make_analysis
from trackspread.report.page_tables import page_table
from trackspread.results.document import result_document
from trackspread.results.tables import route_tables


def shown(name: str, **made: bool):
    route = result_document(make_analysis(**made))["routes"][0]
    table = next(table for table in route_tables(route) if table.name == name)
    return table, page_table(table, 0)


def test_no_position_and_no_empty_column_is_on_the_page() -> None:
    table, page = shown("film")
    assert any(column.unit == "deg" for column in table.columns)
    assert not any("deg" in head.title for head in page.heads)
    for number in range(len(page.heads)):
        assert any(cells[number].text for cells in page.rows)


def test_rows_with_a_place_can_be_framed_on_the_map() -> None:
    table, page = shown("segments")
    assert len(page.frames) == len(page.rows) == len(table.rows)
    assert page.frames[0] == "0 0 100" or page.frames[0].split()[0] == "0"
    assert shown("receivers")[1].frames == ()


def test_figures_are_read_rounded_and_sorted_and_saved_in_the_digits_of_the_document() -> None:
    table, page = shown("traces")
    place = [head.names for head in page.heads].index("spread_m")
    (column,) = [n for n, c in enumerate(table.columns) if c.name == "spread"]
    for row, cells in zip(table.rows, page.rows, strict=True):
        value = getattr(row[column], "value", row[column])
        assert float(cells[place].raw) == value


def test_hostile_texts_stay_on_one_line() -> None:
    _, page = shown("traces", hostile=True)
    assert all(cell.text.isprintable() for cells in page.rows for cell in cells)
