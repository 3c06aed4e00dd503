"""The words of verdicts tell the rules of `statistics.verdicts`, whatever the thresholds."""

from __future__ import annotations

import itertools
import math
import re

import pytest

from trackspread.model import Estimate, Verdict
from trackspread.options import Options, Settings
from trackspread.results.words.verdicts import (
    VERDICT_ADVICE,
    VERDICT_GLYPHS,
    verdict_rule,
    verdict_rule_short,
)
from trackspread.statistics.verdicts import Astray, verdict_of


def read_rules(settings: Settings) -> dict[str, tuple[float, ...]]:
    """The numbers in the words of each rule; the words around them are checked too."""
    shapes = {
        "steady": r"spread up to (\S+) m, and no more than (\S+) % of the rides astray",
        "wavering": r"spread (\S+) to (\S+) m, or more than (\S+) % of the rides astray",
        "torn": r"spread above (\S+) m, or (\S+) % or more of the rides more than (\S+) m astray",
        "thin": r"fewer than (\S+) traces, or no spread known",
    }
    found = {v: re.fullmatch(shape, verdict_rule(v, settings)) for v, shape in shapes.items()}
    return {verdict: tuple(map(float, match.groups())) for verdict, match in found.items() if match}


@pytest.mark.parametrize(
    "options", [Options(), Options(steady_m=2.0, torn_m=4.5, min_traces=5, steady_share=0.1, torn_share=0.5)]
)
def test_rules_in_words_are_the_rules_of_the_verdicts(options: Options) -> None:
    """Every verdict is the one that a reader of the words would give."""
    said = read_rules(options.as_dict())
    spreads = (0.5, 2.0, 2.5, 3.0, 3.5, 4.5, 5.0, 6.0, 6.5, math.nan)
    for traces, spread, share in itertools.product(
        (2, 3, 5, 30), spreads, (0.0, 0.05, 0.07, 0.1, 0.15, 0.2, 0.5)
    ):
        if traces < said["thin"][0] or math.isnan(spread):
            wanted = "thin"
        elif spread > said["torn"][0] or 100 * share >= said["torn"][1]:
            wanted = "torn"
        elif spread > said["wavering"][0] or 100 * share > said["wavering"][2]:
            wanted = "wavering"
        else:
            wanted = "steady"
        given, _ = verdict_of(traces, Estimate(value=spread), Astray(some=share, far=share), options)
        assert given == wanted, (traces, spread, share)
    assert verdict_rule("torn", {"steady_m": 3, "torn_m": 6, "min_traces": 3}) == verdict_rule(
        "torn", Options().as_dict()
    )


@pytest.mark.parametrize("verdict", VERDICT_GLYPHS)
def test_the_short_rule_has_the_numbers_of_the_long_one(verdict: Verdict) -> None:
    settings = Options(steady_m=2.0, torn_m=4.5, min_traces=5, steady_share=0.1, torn_share=0.5).as_dict()
    short, long = (
        re.findall(r"[\d.]+", rule(verdict, settings)) for rule in (verdict_rule_short, verdict_rule)
    )
    assert short
    assert set(short) <= set(long)


def test_every_verdict_has_a_sign_and_an_advice_of_its_own() -> None:
    assert VERDICT_GLYPHS.keys() == VERDICT_ADVICE.keys()
    assert len(set(VERDICT_GLYPHS.values())) == len(set(VERDICT_ADVICE.values())) == 4
