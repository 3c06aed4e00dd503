"""What watches claim of their accuracy beside what was seen, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from trackspread import model as m
from trackspread.results.rounding import plain, rounded, rounded_interval, with_interval
from trackspread.results.words.names import shown_name

CLAIMS: Mapping[m.ClaimCode, str] = MappingProxyType(
    {
        "less": "it claims less error than was seen",
        "alike": "the claim fits what was seen",
        "more": "it claims more error than was seen",
    }
)


def claim_sentences(receivers: Sequence[m.ReceiverResult], level: str) -> list[str]:
    """Return what each watch of a route claims beside what its traces show; nothing of one that claims none.

    Parameters
    ----------
    receivers : sequence of ReceiverResult
    level : str
        Stands before an interval, such as ``95 % interval ``.

    Returns
    -------
    list of str
    """
    return [_claim_sentence(one, level) for one in receivers if one.claim != "none"]


def _claim_sentence(one: m.ReceiverResult, level: str) -> str:
    claimed = plain(rounded(one.claimed_m.median, 1))
    seen = rounded_interval(one.spread_all.value, one.spread_all.low, one.spread_all.high)
    agree = with_interval(*seen, "m", f"1 SD, {level}")
    return f"{shown_name(one.receiver)} claims {claimed} m; its traces agree to {agree}: {CLAIMS[one.claim]}."
