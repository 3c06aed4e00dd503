"""The first screen in a real browser: the answer, in at most 100 words, for 1 to 8 watches, also on a phone."""

import shlex
from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import url2pathname

import pytest
from defusedxml import ElementTree

from compared import NAMES as MADE
from compared import compared
from pages import watched
from thinly import first_quick
from trackspread import analyse, write_report
from world import write_gpx
from world.watches import NAMES, ridden

pytestmark = pytest.mark.browser

WINDOWS = {"desktop": (1440, 900), "phone": (390, 844)}
EIGHT = 8
"""Of so many the analysis is made, not found: what is tried is the page."""
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
  for (const select of document.querySelectorAll("select"))
    if (select.getBoundingClientRect().top < innerHeight) texts.push(select.selectedOptions[0].textContent);
  return texts.join(" ");
}"""


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    made = {}

    def of(watches):
        if watches not in made:
            folder = tmp_path_factory.mktemp(f"watches{watches}")
            if watches == EIGHT:
                write_report(
                    compared((1.6, 1.7, 1.8, 1.9, 3.0, 3.1, 3.9, 4.2), 1.5, traces=32), folder / "out"
                )
                made[watches] = (folder / "out" / "report.html").as_uri()
                return made[watches]
            recordings = ridden(watches, rides=4, length_m=1500.0)
            write_gpx(recordings, folder / "rides", ride_name=lambda r: str(r.ride + 1))
            write_report(analyse(folder / "rides"), folder / "out")
            made[watches] = (folder / "out" / "report.html").as_uri()
        return made[watches]

    return of


@pytest.mark.parametrize("window", WINDOWS)
@pytest.mark.parametrize("watches", [1, 3, EIGHT])
def test_the_first_screen_answers(page, report, watches, window):
    width, height = WINDOWS[window]
    page.set_viewport_size({"width": width, "height": height})
    watch = watched(page)
    page.goto(report(watches))
    page.wait_for_timeout(300)
    assert watch.clean(), watch
    words = [w for w in page.evaluate(ON_SCREEN).split() if any(map(str.isalnum, w))]
    assert len(words) <= 100, "figures count as words, signs do not"
    picture = page.locator("svg.answer:visible")
    assert picture.count() == 1
    box = picture.bounding_box()
    assert box["y"] + box["height"] <= height
    names = picture.locator(".name").evaluate_all("all => all.map(t => t.firstChild.textContent)")
    assert sorted(names) == sorted(MADE if watches == EIGHT else NAMES[:watches])
    assert (
        picture.locator(".dot").count() + picture.locator("path.beyond title").count()
        >= (2 if watches == EIGHT else 8) * watches - 1
    )
    ground = page.locator(".overview .ground").bounding_box()
    assert ground["y"] < height, "the map begins on the first screen"
    if window == "desktop":
        assert ground["y"] + ground["height"] <= height


def test_the_map_is_coloured_for_all_or_for_one(page, report):
    page.goto(report(3))
    before = page.locator(".overview path.seg").count()
    assert before >= 2 * 14
    page.locator(".overview select").select_option(label=NAMES[1])
    assert page.locator(".overview path.seg").count() == before


@pytest.mark.parametrize(("watches", "most"), first_quick([(3, 2500), (5, 2500), (EIGHT, 2500)]))
def test_the_report_is_short(page, report, watches, most, tmp_path):
    """Three watches on two routes: at most 2,500 words, 10 screens and 8 printed pages; more hardly take more."""
    page.goto(report(watches))
    page.wait_for_timeout(300)
    text = page.inner_text("body")
    assert len(text.split()) <= most
    for window, screens in (("desktop", 10), ("phone", {3: 10, 5: 11}.get(watches, 13))):
        width, height = WINDOWS[window]
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(100)
        assert page.evaluate("document.documentElement.scrollHeight") <= screens * height, window
    page.set_viewport_size({"width": 1440, "height": 900})
    assert page.locator("details[open]").count() == 0
    pdf = page.pdf(path=str(tmp_path / "report.pdf"), format="A4")
    pages = pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ")
    print(f"{watches} watches: {len(text.split())} words, {pages} pages")
    assert 1 <= pages <= 8


def test_findings_are_copied_with_their_caveat(page, report):
    page.goto(report(3))
    page.locator("h1 button.copy").click()
    page.wait_for_function("() => document.getElementById('said').textContent === 'Copied'")
    copied = page.locator("h1 button.copy").get_attribute("data-copy")
    assert copied.endswith("not where the road is.")
    assert page.locator(".findings li").count() == page.locator(".findings button.copy").count()


@pytest.mark.parametrize("kind", ["svg", "png"])
@pytest.mark.parametrize("place", [".watches", "#route-0 > .chart >> nth=0"])
def test_charts_are_saved_from_the_page(page, report, kind, place):
    page.goto(report(3))
    watch = watched(page)
    with page.expect_download() as saved:
        page.locator(place).locator(f"button[data-keep={kind}]").click()
    data = saved.value.path().read_bytes()
    assert saved.value.suggested_filename.endswith(f".{kind}")
    if kind == "png":
        assert data.startswith(b"\x89PNG\r\n\x1a\n")  # PNG (ISO/IEC 15948), 5.2
        assert int.from_bytes(data[16:20]) >= 1000, "two pixels for one"
    else:
        root = ElementTree.fromstring(data, forbid_dtd=False)
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        assert b"class=" not in data or place != ".watches", "looks stand in the file itself"
        texts = [element.text for element in root.iter() if element.tag.endswith("}text")]
        assert set(NAMES[:3]) <= set(texts), "a saved chart says which line is which watch"
        assert place == ".watches" or "Outward: Spread along the route" in texts
    assert watch.clean(), watch


def test_one_button_copies_the_command_for_a_shareable_copy(page, report):
    page.goto(report(3))
    page.locator(".share button").click()
    page.wait_for_function("() => document.getElementById('said').textContent === 'Copied'")
    folder = Path(url2pathname(urlsplit(report(3)).path)).parent
    assert shlex.split(page.inner_text(".share code")) == ["trackspread", "share", str(folder)]


def test_a_trace_that_is_pointed_at_says_its_name(page, report):
    page.goto(report(3))
    plot = page.locator("#route-0 .plot[data-reach]").first
    plot.scroll_into_view_if_needed()
    box = plot.bounding_box()
    page.mouse.move(box["x"] + 0.3 * box["width"], box["y"] + (12 + 0.5 * 226) / 280 * box["height"])
    told = plot.locator("xpath=following-sibling::p[contains(@class, 'told')]").inner_text()
    assert any(told.startswith(f"{name}, ride ") for name in NAMES[:3]), told
