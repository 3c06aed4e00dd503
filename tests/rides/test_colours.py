"""A watch keeps its colour: from the table of rides, else from its name, whoever it is set beside."""

import itertools

import pytest

from trackspread import read
from trackspread.readers import read_files
from trackspread.report.style import receiver_look
from trackspread.rides.colours import ALIKE, NAMES, colour_name, watch_slots
from trackspread.rides.sheet.template import write_new_sheet
from world import write_gpx
from world.watches import ridden

WATCHES = ("Moss", "Lichen", "Campion", "Sedge", "Thrift", "Bryony", "Yarrow", "Avens")


def colours(names, given=None):
    return {name: colour_name(slot) for name, slot in watch_slots(names, given).items()}


def test_a_given_colour_holds_and_others_make_way():
    alone = colours(["Moss"])["Moss"]
    found = colours(["Moss", "Sedge"], {"Sedge": alone})
    assert found["Sedge"] == alone
    assert found["Moss"] != alone
    assert frozenset(found.values()) not in ALIKE
    assert colours(["Moss"], {"Moss": "no colour"})["Moss"] == alone


def test_a_name_asks_for_its_colour_and_the_first_in_the_alphabet_has_it():
    assert colours(WATCHES)["Avens"] == colours(["Avens"])["Avens"]
    assert colours(WATCHES) == colours(reversed(WATCHES))


@pytest.mark.parametrize(("count", "most", "some"), [(2, 0, 0.0), (3, 1, 0.3)])
def test_few_watches_look_unlike(count, most, some):
    """``some``: share of sets of three in which two look alike."""
    alike = []
    for names in itertools.combinations(WATCHES, count):
        found = [frozenset(pair) for pair in itertools.combinations(colours(names).values(), 2)]
        alike.append(sum(pair in ALIKE for pair in found))
    assert max(alike) <= most
    assert sum(map(bool, alike)) <= some * len(alike)


def test_eight_watches_have_eight_colours_and_more_have_other_dashes():
    assert set(colours(WATCHES).values()) == set(NAMES)
    slots = watch_slots([f"watch {i}" for i in range(20)]).values()
    assert len({receiver_look(slot) for slot in slots}) == 20


def test_init_writes_the_colours_and_another_analysis_keeps_them(tmp_path):
    write_gpx(ridden(3, rides=1, length_m=400.0), tmp_path)
    seen = read(tmp_path)
    (tmp_path / "rides.csv").unlink()
    write_new_sheet(tmp_path / "rides.csv", seen.witnesses, read_files([tmp_path]).files)
    kept = {w.receiver: w.colour for w in read(tmp_path).witnesses}
    assert kept == colours(kept)
    assert {w.receiver: w.colour for w in read(sorted(tmp_path.glob("out_1_Lichen.gpx"))).witnesses} == {
        "Lichen": kept["Lichen"]
    }


def test_a_colour_needs_no_name_in_its_row(tmp_path):
    write_gpx(ridden(1, rides=1, length_m=400.0), tmp_path / "Moss")
    (tmp_path / "Moss" / "rides.csv").unlink()
    file = min((tmp_path / "Moss").glob("*.gpx"))
    (tmp_path / "rides.csv").write_text(f"file,colour\nMoss/{file.name},wine\n", encoding="utf-8")
    told = {(w.receiver, w.receiver_from, w.colour) for w in read(tmp_path).witnesses}
    assert told == {("Moss", "folder", "wine")}


def test_a_colour_of_no_such_name_is_told(tmp_path):
    write_gpx(ridden(2, rides=1, length_m=400.0), tmp_path)
    file = next(tmp_path.glob("out_1_*.gpx")).name
    (tmp_path / "rides.csv").write_text(f"file,receiver,ride,colour\n{file},Moss,1,mauve\n", encoding="utf-8")
    (problem,) = read(tmp_path).problems
    assert "line 2" in str(problem)
    assert "mauve" in str(problem)
    assert "blue, green" in str(problem)
