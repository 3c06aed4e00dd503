"""The chart of a plan: sound SVG without a trace of when or by what it was made."""

from __future__ import annotations

from defusedxml import ElementTree

from trackspread.planning.chart import plan_chart
from trackspread.planning.table import ride_plans

(PLAN,) = ride_plans(None, 0.2, 1.5, 0.8, 0.95, None, None)


def test_the_same_plan_is_the_same_picture() -> None:
    picture = plan_chart(PLAN)
    assert picture == plan_chart(PLAN)
    root = ElementTree.fromstring(picture, forbid_dtd=False)
    assert root.tag.endswith("svg")
    assert not [element for element in root.iter() if element.tag.endswith(("script", "date", "creator"))]
