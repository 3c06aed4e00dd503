"""The map script: numbers and ids of our own only, no address of others, the same bytes each time."""

import re

from records import PAYLOADS, make_analysis
from trackspread.report.map_words import MapWords
from trackspread.report.route_map import leaflet_files, make_map
from trackspread.results.document import result_document


def plan_of(**made):
    analysis = make_analysis(**made)
    words = MapWords(analysis, result_document(analysis))
    return analysis, make_map(list(enumerate(analysis.routes)), words, analysis.settings, "plan")


def test_nothing_that_was_read_enters_the_script():
    _, plain = plan_of()
    _, hostile = plan_of(hostile=True)
    assert hostile.script == plain.script
    assert hostile.html == plain.html
    for payload in PAYLOADS:
        assert payload not in hostile.script
    for sign in ("{{", "{%", "`", "<", "http", "jquery", "bootstrap"):
        assert sign not in hostile.script


def test_same_analysis_same_script():
    assert plan_of(seed=2)[1].script == plan_of(seed=2)[1].script


def test_every_id_exists_and_every_mark_has_words():
    _, plan = plan_of()
    declared = set(re.findall(r"var (\w+) =", plan.script))
    assert plan.data["map"] in declared
    for route in plan.data["routes"]:
        assert set(route["groups"].values()) <= declared
        assert set(route["marks"]) | set(route["labels"]) <= declared
        assert all(lines and all(lines) for lines in route["marks"].values())


def test_segments_are_coloured_by_their_spread():
    analysis, plan = plan_of(routes=1)
    for i, segment in enumerate(analysis.routes[0].segments):
        looks = re.search(rf'var poly_line_planr0s{i} = .*?"className": "([^"]*)"', plan.script, re.S)[1]
        if segment.spread.value != segment.spread.value:
            assert looks == "seg unknown"
        else:
            number = int(looks.removeprefix("seg c"))
            verdicts = ("steady", "steady", "wavering", "wavering", "torn", "torn", "torn")
            assert segment.verdict in (verdicts[number], "thin")


def test_coordinates_run_on_across_the_antimeridian():
    _, plan = plan_of(place=(179.99, -50.0))
    lon = [float(pair[1]) for pair in re.findall(r"\[(-?\d+\.\d+), (-?\d+\.\d+)\]", plan.script)]
    assert max(lon) - min(lon) < 1


def test_leaflet_loads_nothing():
    script, sheet = leaflet_files()
    assert "url(" not in sheet
    assert "@import" not in sheet
    assert "sourceMappingURL" not in script
    assert "</script" not in script.lower()
    assert "<script" not in script.lower()
