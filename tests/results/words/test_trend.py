"""What became of a watch between two campaigns, in words."""

from __future__ import annotations

from dataclasses import replace

from trackspread.model import Change, Estimate, Reason
from trackspread.results.words.trend import _change_sentence


def test_sentences_name_the_firmware_and_the_direction() -> None:
    none = Estimate(value=0.5, low=0.3, high=0.8)
    lower = Estimate(value=-1.2, low=-2.3, high=-0.4)
    change = Change(
        receiver="sedge", before="May", after="June", rides=(4, 5), firmware=("4.1", "4.2"), ratio=none,
        difference=lower, told_apart=True, p_adjusted=0.01,
    )  # fmt: skip
    assert _change_sentence(change) == (
        "sedge, May to June (firmware 4.1 to 4.2): more consistent (SD 1.2 m lower, interval 0.4 to 2.3 m lower; "
        "4 and 5 rides)."
    )
    unsure = replace(change, difference=Estimate(value=0.2, low=-0.9, high=1.4), told_apart=False)
    assert "no detectable change (SD 0.2 m higher, interval 0.9 m lower to 1.4 m higher;" in _change_sentence(
        unsure
    )
    unknown = replace(
        unsure, difference=Estimate(reason=Reason("few_rides_of_campaign")), firmware=("", "4.2")
    )
    assert _change_sentence(unknown).startswith(
        "sedge, May to June (firmware unknown to 4.2): no statement (4 and 5 rides; "
    )
