"""map.html in a real browser: no request unless a base map was asked for, and then only to its host."""

import pytest

from pages import watched, write_pages
from records import make_analysis
from trackspread.report.page import map_page
from trackspread.report.policy import parse_basemap
from trackspread.results.document import result_document

pytestmark = pytest.mark.browser

PIXEL = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010804000000b51c0c020000000b4944415478da6364f80f0001050101"
    "27186d0a0000000049454e44ae426082"
)


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    return write_pages(tmp_path_factory.mktemp("map"))[1]


def test_opens_offline_and_switches_routes(page, address):
    watch = watched(page)
    page.goto(address)
    assert page.locator(".ground path.seg").count() == 32
    assert page.locator(".ground path.fix").count() == 6 + 5
    page.get_by_label("back", exact=True).check()
    assert page.locator(".ground path.seg").count() == 21
    assert page.locator(".ground path.fix").count() == 6
    assert page.locator("[data-key='0']").is_hidden()
    assert watch.clean(), watch


def test_figures_stand_in_the_notes(page, address):
    page.goto(address)
    page.locator(".ground path.seg").nth(12).dispatch_event("mouseover")
    words = page.locator(".leaflet-tooltip.note").inner_text()
    assert "1.20 to 1.30 km" in words
    assert " m (" in words
    assert "steady: spread up to 3 m" in words
    page.locator(".ground path.seg").nth(12).dispatch_event("mouseout")
    page.locator(".ground path.fix.first").first.dispatch_event("mouseover")
    assert "First fix: Alder, ride 1" in page.locator(".leaflet-tooltip.note").last.inner_text()


def test_the_line_can_be_walked_by_keyboard(page, address):
    page.goto(address)
    page.locator(".walk input").focus()
    page.keyboard.press("End")
    assert page.inner_text(".walk output").startswith("3.20 km")
    assert page.locator(".ground path.here").count() == 1


def test_kilometres_are_marked(page, address):
    page.goto(address)
    marks = page.locator(".leaflet-tooltip.post").all_inner_texts()
    assert marks == ["start", "1 km", "2 km", "3 km", "end"]


@pytest.mark.parametrize("place", [(179.99, -50.0), (69.4, -85.0), (-179.995, 66.0)])
def test_routes_at_the_edges_of_the_globe_are_drawn_in_one_piece(page, tmp_path, place):
    _, address = write_pages(tmp_path, place=place, routes=1)
    watch = watched(page)
    page.goto(address)
    box = page.locator(".ground path.case").bounding_box()
    ground = page.locator(".ground").bounding_box()
    assert 0.3 < max(box["width"] / ground["width"], box["height"] / ground["height"]) < 1
    assert watch.clean(), watch


@pytest.mark.parametrize("width", [390, 1440])
def test_axe_finds_nothing(page, address, axe, width):
    page.set_viewport_size({"width": width, "height": 844})
    page.goto(address)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.evaluate(axe)
    found = page.evaluate("async () => (await axe.run(document)).violations")
    assert [(v["id"], [n["html"][:200] for n in v["nodes"]][:3]) for v in found] == []


def test_base_map_comes_from_its_host_alone_and_names_its_maker(browser, tmp_path):
    analysis = make_analysis(routes=1)
    tiles = parse_basemap("https://tiles.example.org/{z}/{x}/{y}.png", "© <b>Example</b> mappers")
    file = tmp_path / "map.html"
    file.write_text(map_page(analysis, result_document(analysis), tiles), encoding="utf-8")
    context = browser.new_context(viewport={"width": 800, "height": 600})
    asked = []

    def answer(route):
        asked.append(route.request.url)
        route.fulfill(body=PIXEL, content_type="image/png")

    context.route("http*://**/*", answer)
    page = context.new_page()
    watch = watched(page)
    page.goto(file.as_uri())
    page.wait_for_selector("img.leaflet-tile")
    assert asked
    assert all(url.startswith("https://tiles.example.org/") for url in asked)
    assert page.inner_text(".leaflet-control-attribution") == "© <b>Example</b> mappers"
    assert watch.errors == []
    context.close()
