"""What a watch claims of its accuracy stands beside what its traces show."""

from __future__ import annotations

from dataclasses import replace

from records import make_analysis
from trackspread import model as m
from trackspread.results.words.claims import CLAIMS, claim_sentences

SEEN = m.Estimate(value=4.2, low=3.1, high=6.4)


def test_a_claim_is_told_with_the_spread_and_a_watch_without_one_is_left_out() -> None:
    watch = make_analysis(routes=1).routes[0].receivers[0]
    told = replace(
        watch, receiver="sedge", claimed_m=m.Claim(median=3.0, p95=7.0), claim="less", spread_all=SEEN
    )
    (sentence,) = claim_sentences([told, replace(watch, claim="none")], "95 % interval ")
    agree = "4.2 m (1 SD, 95 % interval 3.1 to 6.4 m)"
    assert sentence == f"sedge claims 3 m; its traces agree to {agree}: {CLAIMS['less']}."
