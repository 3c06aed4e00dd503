"""The page and the table of a ranking: ranks, ties, and what is not known."""

from __future__ import annotations

import csv
import math

from trackspread.compare.page import rank_csv, rank_page, rank_text, tied
from trackspread.compare.standings import FIGURES, Group, Standing
from trackspread.model import Estimate, MedianEstimate


def standing(receiver: str, value: float, rank: int | None) -> Standing:
    none = MedianEstimate()
    return Standing(
        receiver=receiver, analysis="May", route="Outward", rides=4,
        spread=Estimate(value=value, low=0.8 * value, high=1.4 * value), first_fix=none, settled_fix=none,
        stretch_share=none, restricted=False, ranks=dict.fromkeys(FIGURES, rank),
    )  # fmt: skip


ROWS = (standing("<b>moss</b>", 2.0, 1), standing("=1+1", 2.1, 1), standing("fern", math.nan, None))
GROUP = Group(title="Outward", rows=ROWS, cautions=())


def test_a_rank_that_is_none_is_a_dash_and_ties_are_said() -> None:
    assert [rank_text(row.ranks["spread"]) for row in ROWS] == ["1", "1", "–"]
    (said,) = tied(GROUP, "spread")
    assert said == "Rank 1 is shared by <b>moss</b> (May), =1+1 (May): no detectable difference."


def test_names_are_text_on_the_page_and_no_formula_in_the_file() -> None:
    page = rank_page([GROUP], "spread")
    assert "<b>moss" not in page
    assert "&lt;b&gt;moss" in page
    rows = list(csv.DictReader(rank_csv([GROUP]).splitlines()))
    assert [row["receiver"] for row in rows] == ["<b>moss</b>", "'=1+1", "fern"]
    assert (rows[0]["spread_m"], rows[2]["spread_m"], rows[2]["rank_spread"]) == ("2", "", "")
