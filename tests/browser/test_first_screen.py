"""The first screen in a real browser: the answer, in at most 100 words, for 1 to 8 watches, also on a phone."""

import re

import pytest

from pages import watched
from trackspread import analyse, write_report
from world import write_gpx
from world.watches import NAMES, ridden

pytestmark = pytest.mark.browser

WINDOWS = {"desktop": (1440, 900), "phone": (390, 844)}
ON_SCREEN = """() => {
  const texts = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const node = walk.currentNode;
    const parent = node.parentElement;
    if (!node.textContent.trim() || parent.closest("script, style, title, .unseen, .skip")) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const box = range.getBoundingClientRect();
    if (box.width > 0 && box.height > 0 && box.top < innerHeight && getComputedStyle(parent).visibility !== "hidden")
      if (box.bottom > 0) texts.push(node.textContent);
  }
  return texts.join(" ");
}"""


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    made = {}

    def of(watches):
        if watches not in made:
            folder = tmp_path_factory.mktemp(f"watches{watches}")
            recordings = ridden(watches, rides=4, length_m=1500.0)
            write_gpx(recordings, folder / "rides", ride_name=lambda r: str(r.ride + 1))
            write_report(analyse(folder / "rides"), folder / "out")
            made[watches] = (folder / "out" / "report.html").as_uri()
        return made[watches]

    return of


def words_in(text):
    """Words hold a letter; a figure is none."""
    return [part for part in text.split() if re.search("[a-z]", part, re.IGNORECASE)]


@pytest.mark.parametrize("window", WINDOWS)
@pytest.mark.parametrize("watches", [1, 3, 8])
def test_the_first_screen_answers(page, report, watches, window):
    width, height = WINDOWS[window]
    page.set_viewport_size({"width": width, "height": height})
    watch = watched(page)
    page.goto(report(watches))
    page.wait_for_timeout(300)
    assert watch.clean(), watch
    assert len(words_in(page.evaluate(ON_SCREEN))) <= 100
    picture = page.locator("svg.answer:visible")
    assert picture.count() == 1
    box = picture.bounding_box()
    assert box["y"] + box["height"] <= height
    names = picture.locator(".name").evaluate_all("all => all.map(t => t.firstChild.textContent)")
    assert sorted(names) == sorted(NAMES[:watches])
    assert picture.locator(".dot, path.beyond").count() >= 8 * watches
    ground = page.locator(".overview .ground").bounding_box()
    assert ground["y"] < height, "the map begins on the first screen"
    if window == "desktop":
        assert ground["y"] + ground["height"] <= height


def test_the_map_is_coloured_for_all_or_for_one(page, report):
    page.goto(report(3))
    before = page.locator(".overview path.seg").count()
    assert before >= 2 * 14
    page.locator(".overview").get_by_label(NAMES[1]).check()
    assert page.locator(".overview path.seg").count() == before
