"""The picture of the first screen: every watch a row, every first fix once, nothing hidden but told."""

import re

import pytest
from defusedxml import ElementTree

from trackspread import model as m
from trackspread.report.answer import FixDot, Row
from trackspread.report.charts.answer import FEW_ROWS, answer_pictures


def row(name="Moss", slot=0, fixes=(4.0, 4.1, 4.2, 4.3, 4.4, 183.0), **more):
    given = {
        "group": "a", "spreads": (m.Estimate(value=2.0, low=1.0, high=4.0),), "strays": (m.Estimate(value=0.03),),
        "median_fix": m.MedianEstimate(median=4.15, low=4.0, high=83.0, n=4), "without_start": 0,
    }  # fmt: skip
    dots = tuple(FixDot(seconds=s, ride=str(i), route="Outward") for i, s in enumerate(fixes))
    return Row(name=name, slot=slot, fixes=dots, **(given | more))


@pytest.mark.parametrize(
    ("count", "kind"), [(1, "broad"), (FEW_ROWS, "broad"), (FEW_ROWS + 1, "wide"), (8, "wide")]
)
def test_few_watches_fill_the_width(count, kind):
    pictures = [ElementTree.fromstring(text) for text in answer_pictures([row(slot=i) for i in range(count)])]
    assert [picture.get("class") for picture in pictures] == [f"answer {kind}", "answer narrow"]
    for picture in pictures:
        width, height = (float(x) for x in picture.get("viewBox").split()[2:])
        for mark in picture.iter("circle"):
            assert 0 < float(mark.get("cx")) < width
            assert 0 < float(mark.get("cy")) < height


def test_every_fix_is_drawn_apart_or_told_at_the_edge():
    (wide, _) = answer_pictures([row()])
    dots = {
        (m["x"], m["y"]) for m in re.finditer(r'class="dot [^>]*cx="(?P<x>[^"]*)" cy="(?P<y>[^"]*)"', wide)
    }
    assert len(dots) == 5
    assert ">183</text>" in wide
    assert "Moss, ride 5, Outward: 183 s" in wide


def test_what_is_unknown_says_so_and_names_stay_text():
    unknown = row(name="<b>&", fixes=(), spreads=(m.Estimate(),), strays=(), median_fix=m.MedianEstimate())
    for text in answer_pictures([unknown, row()]):
        assert "&lt;b&gt;&amp;" in text
        assert "not known" in text
        assert "no start noted" in text
        ElementTree.fromstring(text)


def test_of_many_watches_only_the_spread_is_written_out():
    def written(count):
        (wide, _) = answer_pictures([row(slot=i) for i in range(count)])
        return len(re.findall(r'class="figure"', wide)) / count

    assert written(4) == 3
    assert written(8) == 1


def test_a_long_name_is_cut_to_its_room_and_keeps_its_end():
    """Bold letters of 15 px are 8.7 px wide on average; models of one maker differ at their ends."""
    long = "A wristwatch with a long name, second edition, 47"
    pictures = answer_pictures([row(name=long, group="ab"), row(name="Moss", slot=1), *[row()] * 2])
    for picture, room in zip(pictures, (306, 136), strict=True):
        root = ElementTree.fromstring(picture)
        names = [t for t in root.iter() if t.get("class") == "name"]
        told = [t.text for t in names]
        assert told[1] == "Moss"
        assert told[0].endswith(" 47")
        letters = sum(len(t.text or "") for t in names[0].iter() if not t.tag.endswith("title"))
        assert 0 < 8.7 * letters <= room
        assert names[0].find("title").text == long
