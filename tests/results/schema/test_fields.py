"""A field is told once: its name, its kind, its column, and the reason beside a null."""

from __future__ import annotations

from trackspread.results.schema.fields import LAST, _null_rule, figure, text


def test_columns_of_texts_and_figures_have_what_a_file_and_a_page_need() -> None:
    assert (text("ride", "Ride").unit, text("ride", "Ride").rank) == ("", LAST)
    spread = figure("spread", "Spread", "m", interval=True, rank=2)
    assert (spread.name, spread.title, spread.unit, spread.interval, spread.rank) == (
        "spread",
        "Spread",
        "m",
        True,
        2,
    )


def test_a_null_needs_its_reason() -> None:
    """JSON Schema 2020-12, 10.2.2: ``if`` the figure is null, ``then`` the reason has letters."""
    rule = _null_rule("value_m")
    assert rule["if"]["properties"]["value_m"] == {"type": "null"}
    assert "reason" in str(rule["then"])
