"""The page in a real browser, cut off from every network but loopback: from dropped folder to saved archive.

Accessibility is judged by axe-core (WCAG 2.2 A and AA and its best practices), an outside checker.
"""

from __future__ import annotations

import csv
import functools
import http.server
import json
import re
import threading
import time
import zipfile
from pathlib import Path

import pytest

from thinly import first_quick
from trackspread.web.store import Limits
from world import Globe, Receiver, simulate
from world.files import gpx_text

pytestmark = pytest.mark.browser
DEMO = Path(__file__).parents[2] / "demo_routes"
WIDTHS = {"phone": (390, 844), "desk": (1440, 900)}
EVIL = """<!doctype html><title>other</title>
<iframe name="framed" src="HOME/"></iframe><iframe name="sink"></iframe>
<form id="form" method="post" action="HOME/end" target="sink"></form>
<script>
window.got = []; window.attempts = 0;
const tried = (what, promise) => promise.then(
  (answer) => { if (answer.type !== "opaque") window.got.push(what); }, () => {}
).finally(() => { window.attempts += 1; });
tried("read", fetch("HOME/state", {credentials: "include"}));
tried("read blindly", fetch("HOME/state", {credentials: "include", mode: "no-cors"}));
tried("end", fetch("HOME/end", {method: "POST", credentials: "include", mode: "no-cors", body: "{}"}));
tried("put", fetch("HOME/files?name=evil.gpx", {method: "PUT", credentials: "include", body: "evil"}));
tried("delete", fetch("HOME/files", {method: "DELETE", credentials: "include"}));
tried("form", new Promise((good) => { document.getElementById("form").submit(); good({type: "opaque"}); }));
const script = document.createElement("script");
script.src = "HOME/page/drop.js"; script.type = "module"; script.crossOrigin = "use-credentials";
tried("script", new Promise((good, bad) => { script.onload = good; script.onerror = bad; }));
document.head.append(script);
</script>"""


class _Quiet(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *words):
        pass


class Window:
    """A page on one drop server that notes every request, complaint and dialog."""

    def __init__(self, browser, client, size="desk", scheme="light", zone="UTC"):
        width, height = WIDTHS[size]
        self.context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme, reduced_motion="reduce",
            timezone_id=zone,
        )  # fmt: skip
        self.context.set_default_timeout(90_000)
        self.home = client.server.address.partition("/?")[0]
        self.client = client
        self.elsewhere, self.complaints = [], []
        self.context.route(lambda url: not url.startswith((f"{self.home}/", "blob:", "data:")), self._refuse)
        self.context.on("page", self._listen)
        self.page = self.context.new_page()

    def _refuse(self, route):
        self.elsewhere.append(route.request.url)
        route.abort()

    def _listen(self, page):
        page.on("console", lambda message: message.type == "error" and self.complaints.append(message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("dialog", lambda dialog: (self.complaints.append(dialog.message), dialog.dismiss()))

    def open(self):
        self.page.goto(self.client.server.address)
        self.page.wait_for_selector("#limits:not(:empty)")
        return self

    def drag(self, *paths):
        """Drag files and folders from outside onto the page, as the system does."""
        devtools = self.context.new_cdp_session(self.page)
        data = {"items": [], "files": [str(path) for path in paths], "dragOperationsMask": 1}
        for kind in ("dragEnter", "dragOver", "drop"):
            devtools.send("Input.dispatchDragEvent", {"type": kind, "x": 200, "y": 400, "data": data})

    def choose(self, *paths):
        self.page.set_input_files("#files", [str(path) for path in paths])

    def shown(self, selector):
        if selector == "#result":
            self.page.wait_for_selector("#save-all[href]")  # it comes last
        return self.page.wait_for_selector(f"{selector}:not([hidden])")

    def values(self, column):
        return [field.input_value() for field in self.page.locator(f"[id^='{column}-'][type=text]").all()]

    def save(self, selector, folder):
        with self.page.expect_download() as saving:
            self.page.click(selector)
        target = folder / saving.value.suggested_filename
        saving.value.save_as(target)
        return target

    def rows(self):
        return self.page.evaluate("fetch('./table').then((answer) => answer.json())")["rows"]

    def client_state(self):
        return self.page.evaluate("fetch('./state').then((answer) => answer.text())")

    def judge(self, axe, state):
        """Let axe-core look at the page as it stands, and see that nothing runs out of it sideways."""
        if not self.page.evaluate("'axe' in window"):
            self.page.evaluate(axe)
        found = self.page.evaluate(
            "axe.run(document, {resultTypes: ['violations']}).then((r) => r.violations)"
        )
        assert [(v["id"], [node["html"] for node in v["nodes"]]) for v in found] == [], state
        wide = self.page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        assert wide <= 0, state

    def focus_on(self, identity):
        until(self.page, f"document.activeElement.id === {json.dumps(identity)}")


def until(page, expression, seconds=90):
    """Wait until an expression is true, without the page's own eval, which its policy forbids."""
    deadline = time.monotonic() + seconds
    while not page.evaluate(expression):
        assert time.monotonic() < deadline, expression
        page.wait_for_timeout(50)


@pytest.fixture
def window(browser, start):
    """Return a function that opens a page of a new session."""
    opened = []

    def begin(size="desk", scheme="light", limits=Limits(), zone="UTC"):  # noqa: B008
        opened.append(Window(browser, start(limits, opened=False), size, scheme, zone))
        return opened[-1].open()

    yield begin
    for one in opened:
        one.context.close()


@pytest.fixture
def commute(tmp_path):
    """A folder a receiver, with two invented receivers ridden together four times."""
    receivers = [Receiver(name="Alder", sigma_m=1.5), Receiver(name="Birch", sigma_m=2.5)]
    for recording in simulate(seed=7, receivers=receivers, length_m=2000).recordings:
        file = tmp_path / "commute" / recording.receiver.name / f"ride {recording.ride + 1}.gpx"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(gpx_text(recording))
    return tmp_path / "commute"


def test_from_dropped_folder_to_saved_archive(window, commute, tmp_path):
    w = window()
    (commute / "broken.gpx").write_text("no trace at all")
    w.drag(commute)
    w.shown("#check")
    w.focus_on("check-head")
    assert w.page.locator("#table-place tbody tr").count() == 8
    assert w.values("receiver") == ["Alder"] * 4 + ["Birch"] * 4
    assert "broken.gpx" in w.page.inner_text("#unread")
    w.page.click("#start")
    w.shown("#result")
    w.focus_on("result-head")
    assert re.search(r"\d(\.\d+)?\sm \(\d", w.page.inner_text("#routes .figure >> nth=0"))

    archive = w.save("#save-all", tmp_path)
    assert archive.name == "trackspread-result.zip"
    result = w.client.folder / "result"
    with zipfile.ZipFile(archive) as packed:
        names = {name.removeprefix("trackspread-result/") for name in packed.namelist()}
        assert {"report.html", "map.html", "result.json", "layers.gpkg", "tables/segments.csv"} <= names
        for name in names:
            assert packed.read(f"trackspread-result/{name}") == (result / name).read_bytes()
    stills = {name for name in names if name.startswith("stills/")}
    assert set(w.page.locator("#single a").all_inner_texts()) == names - stills
    assert len(stills) == w.page.locator("#stills li").count() >= 2
    assert w.page.is_visible("#private")
    table = w.save("#single a:has-text('segments.csv')", tmp_path)
    assert table.read_bytes() == (result / "tables" / "segments.csv").read_bytes()
    assert w.elsewhere == w.complaints == []


def test_stills_are_seen_opened_and_saved(window, commute, tmp_path):
    w = window()
    w.drag(commute)
    w.shown("#check")
    w.page.click("#start")
    w.shown("#result")
    pictures = w.page.locator("#stills img")
    for number in range(pictures.count()):
        pictures.nth(number).scroll_into_view_if_needed()
    until(w.page, "[...document.querySelectorAll('#stills img')].every((i) => i.naturalWidth === 1920)")
    still = w.save("#stills .save >> nth=0", tmp_path)
    assert still.read_bytes() == (w.client.folder / "result" / "stills" / still.name).read_bytes()
    assert still.read_bytes().startswith(b"\x89PNG\r\n\x1a\n")
    with w.context.expect_page() as opening:
        w.page.locator("#stills a >> nth=0").click()
    until(opening.value, "document.images[0]?.naturalWidth === 1920")
    assert opening.value.evaluate("window.origin") == "null"
    with w.context.expect_page() as opening:
        w.page.click("#open-sequence")
    sequence = opening.value
    sequence.wait_for_load_state()
    title = sequence.inner_text("#title")
    sequence.keyboard.press("f")
    until(sequence, "document.fullscreenElement !== null")
    sequence.keyboard.press("n")
    until(sequence, f"document.getElementById('title').textContent !== {json.dumps(title)}")
    assert w.elsewhere == w.complaints == []


@pytest.mark.slow
def test_the_answer_comes_first_and_stills_as_they_are_drawn(window):
    """The demo has twenty scenes: those of a small set are drawn between two looks of the page."""
    w = window()
    w.drag(*sorted(path for kind in ("gpx", "fit", "tcx", "csv") for path in DEMO.glob(f"*.{kind}")))
    w.shown("#check")
    seen = """
        const seen = window.seen = [];
        const all = document.getElementById("result");
        new MutationObserver(() => seen.push({
          routes: document.querySelectorAll("#routes .route").length,
          report: document.getElementById("open-report").hasAttribute("href"),
          stills: document.querySelectorAll("#stills li").length,
          archive: document.getElementById("save-all").hasAttribute("href"),
          running: !document.getElementById("running").hidden,
        })).observe(all, {childList: true, subtree: true, attributes: true});
    """
    w.page.evaluate(f"() => {{{seen}}}")
    w.page.click("#start")
    w.shown("#result")
    steps = w.page.evaluate("window.seen")
    first = {name: next(k for k, step in enumerate(steps) if step[name]) for name in steps[0]}
    assert first["routes"] <= first["report"] <= first["stills"] < first["archive"]
    assert all(steps[first[name]]["running"] for name in ("routes", "report", "stills"))
    assert not steps[first["routes"]]["stills"]
    counts = [step["stills"] for step in steps]
    assert counts == sorted(counts)
    assert not w.page.inner_text("#to-come")
    assert w.elsewhere == w.complaints == []


@pytest.mark.slow
def test_without_stills_nothing_of_them_is_there(window, commute):
    w = window()
    w.drag(commute)
    w.shown("#check")
    w.page.uncheck("#film")
    w.page.check("#publish")
    w.page.click("#start")
    w.shown("#result")
    assert w.page.is_hidden("#film-list")
    assert w.page.is_hidden("#open-sequence")
    assert w.page.is_hidden("#private")
    assert not (w.client.folder / "result" / "stills").exists()


def test_a_shareable_copy_is_one_button_away_and_needs_no_second_analysis(window, commute, tmp_path, axe):
    w = window()
    w.drag(commute)
    w.shown("#check")
    w.page.uncheck("#film")
    w.page.click("#start")
    w.shown("#result")
    assert w.page.locator("#watches tbody tr").count() >= 1
    assert w.page.inner_text("#answer").endswith(".")
    w.page.click("#share")
    w.page.wait_for_selector("#open-shared[href]")
    with zipfile.ZipFile(w.save("#save-shared", tmp_path)) as archive:
        report = archive.read("trackspread-result/report.html").decode("utf-8")
        cut = json.loads(archive.read("trackspread-result/result.json"))
    whole = json.loads((w.client.folder / "result" / "result.json").read_text())
    assert "Ends cut for publication" in report
    assert cut["routes"][0]["length_m"] < whole["routes"][0]["length_m"]
    assert w.page.is_hidden("#share")
    assert w.page.is_visible("#private"), "the result itself stays whole"
    w.judge(axe, "result")


@pytest.mark.slow
def test_one_session_cuts_the_same_traces_alike(window, commute):
    """A second publication with another cut would tell more than the first."""
    w = window()
    w.drag(commute)
    w.shown("#check")
    w.page.uncheck("#film")
    w.page.check("#publish")
    ends = []
    for dates in (False, True):
        if dates:
            w.page.click("#options summary")
            w.page.check("#hide_dates")
        w.page.click("#start")
        w.shown("#running")
        w.shown("#result")
        result = json.loads((w.client.folder / "result" / "result.json").read_text())
        ends.append([route["centreline"]["coordinates"] for route in result["routes"]])
    assert ends[0] == ends[1]


def test_what_is_chosen_while_the_page_begins_is_taken(window, commute):
    """On a slow machine a user can be quicker than the page's first question."""
    w = window()
    asked = []

    def hold(route):
        asked.append(route)

    w.page.route("**/state", hold, times=1)
    w.page.reload()
    while not asked:
        w.page.wait_for_timeout(20)
    for _ in range(2):  # one who sees nothing happen chooses again
        w.choose(*sorted(commute.rglob("*.gpx"))[:2])
        w.page.wait_for_timeout(100)
    asked.pop().continue_()
    w.shown("#check")
    assert len(w.rows()) == 2
    assert not w.page.is_visible("#alert")
    assert w.complaints == []


@pytest.mark.slow
def test_what_is_too_much_is_told_file_by_file(window, commute, tmp_path):
    """Each refusal names its reason; the server's own refusals are attacked in test_store.py."""
    w = window(limits=Limits(file_bytes=300_000, total_bytes=400_000, files=4))
    huge = tmp_path / "huge.gpx"
    huge.write_bytes(b" " * 300_001)
    files = sorted(commute.rglob("*.gpx"))
    room = 400_000 - sum(file.stat().st_size for file in files[:3])
    much = tmp_path / "much.gpx"
    much.write_bytes(b" " * (room + 1))
    w.choose(*files[:3], huge, much)
    w.shown("#check")
    w.shown("#refused")
    told = w.page.locator("#refused li").all_inner_texts()
    assert len(told) == 2
    assert re.fullmatch(r"huge\.gpx: larger than 0 MB, the most for one file", told[0])
    assert re.fullmatch(r"much\.gpx: a session takes 0 MB together; this one is left out", told[1])
    w.choose(*files[3:])
    until(w.page, "document.querySelectorAll('#refused li').length > 2")
    assert "a session takes 4 files" in w.page.inner_text("#refused")
    until(w.page, "document.querySelectorAll('#table-place tbody tr').length === 4")
    assert w.complaints == []


@pytest.mark.slow
def test_nothing_is_taken_while_the_analysis_runs(window, commute, tmp_path):
    w = window()
    w.drag(commute)
    w.shown("#check")
    w.page.click("#start")
    w.shown("#running")
    assert w.page.is_disabled("#pick-all")
    assert "while work is under way" in w.page.inner_text("#many-why")
    assert "while work is under way" in w.page.get_attribute("#clear", "title")
    w.choose(next(commute.rglob("*.gpx")))
    w.shown("#alert")
    assert "Wait for the work under way" in w.page.inner_text("#alert")
    w.shown("#result")
    assert w.page.is_hidden("#refused")
    until(w.page, "!document.getElementById('pick-all').disabled")
    assert "Select one row" in w.page.inner_text("#many-why")


@pytest.mark.slow
def test_report_and_map_open_apart_from_the_session(window, commute, tmp_path):
    w = window()
    w.drag(commute)
    w.shown("#check")
    w.page.click("#start")
    w.shown("#result")
    for link, heading in [("#open-report", "h1"), ("#open-map", "body")]:
        with w.context.expect_page() as opening:
            w.page.click(link)
        opened = opening.value
        opened.wait_for_load_state()
        assert opened.inner_text(heading)
        assert opened.evaluate("window.origin") == "null"
        assert opened.evaluate("window.opener") is None
        assert opened.evaluate("fetch('./state').then(() => 'read', () => 'refused')") == "refused"
        assert "connect-src" in w.complaints.pop() or "Content Security Policy" in w.complaints.pop()
        w.complaints.clear()
        opened.close()
    assert w.elsewhere == []


def test_times_are_the_riders_and_the_zone_is_chosen_once(window, commute):
    """Tokyo is nine hours ahead of UTC all year (tz database)."""
    w = window(zone="Asia/Tokyo")
    w.drag(commute)
    w.shown("#check")
    assert w.page.input_value("#clock") == "Asia/Tokyo"
    row = w.rows()[0]
    local, utc = row["first_point"].split()[1], row["first_point_utc"].split()[0]
    assert (int(local[:2]) - int(utc[:2])) % 24 == 9
    w.page.fill("#start_pressed-0", local)
    w.page.keyboard.press("Tab")
    until(w.page, f"document.getElementById('start_pressed-from-0').textContent === '{utc} UTC, as stated'")
    assert w.page.input_value("#start_pressed-0") == row["first_point"]
    w.page.fill("#start_pressed-1", f"{local}+09:00")
    w.page.keyboard.press("Tab")
    until(w.page, "document.getElementById('start_pressed-from-1').textContent.endsWith('as stated')")
    w.page.select_option("#clock", "UTC")
    until(w.page, f"document.getElementById('start_pressed-0').value.endsWith('{utc}')")
    assert w.page.inner_text("#start_pressed-from-0") == "as stated"
    w.page.reload()
    w.shown("#check")
    assert w.page.input_value("#clock") == "UTC"


def test_corrections_reach_the_result(window, commute):
    w = window()
    w.drag(commute)
    w.shown("#check")
    w.page.fill("#receiver-0", "Elder & <b>sons</b>")
    w.page.keyboard.press("Tab")
    until(w.page, "document.getElementById('receiver-from-0').textContent === 'as stated'")
    assert w.page.inner_text("#status") == "Corrected."
    w.page.fill("#note-0", "low cloud")
    w.page.fill("#start_pressed-0", "half past six")
    w.page.keyboard.press("Tab")
    w.page.wait_for_selector("#start_pressed-0[aria-invalid=true]")
    assert "start_pressed must be a time" in w.page.inner_text("#start_pressed-0-error")
    start_s = w.rows()[0]["first_point"].split()[1]
    w.page.fill("#start_pressed-0", start_s)
    w.page.keyboard.press("Tab")
    until(w.page, "document.getElementById('start_pressed-from-0').textContent === 'as stated'")
    with (w.client.folder / "rides.csv").open(newline="", encoding="utf-8") as file:
        row = next(csv.DictReader(file))
    assert row == {
        "file": row["file"], "receiver": "Elder & <b>sons</b>", "ride": "",
        "start_pressed": start_s, "fix_seen": "", "firmware": "", "note": "low cloud", "colour": "", "route": "",
    }  # fmt: skip
    w.page.reload()
    w.shown("#check")
    assert w.page.input_value("#receiver-0") == "Elder & <b>sons</b>"
    w.page.click("#start")
    w.shown("#result")
    result = json.loads((w.client.folder / "result" / "result.json").read_text())
    first = result["inputs"][0]
    assert (first["receiver"], first["receiver_from"], first["note"]) == (
        "Elder & <b>sons</b>",
        "sheet",
        "low cloud",
    )
    assert w.page.is_hidden("#stale")
    w.page.fill("#receiver-0", "")
    w.page.keyboard.press("Tab")
    w.shown("#stale")
    assert w.page.input_value("#receiver-0") == "Alder", "an empty cell gives the inferred value back"


@pytest.mark.slow
def test_cancelled_and_run_again(window, commute):
    w = window()
    w.drag(commute)
    w.shown("#check")
    w.page.click("#start")
    w.shown("#running")
    w.page.click("#cancel")
    w.shown("#stopped")
    w.focus_on("start")
    assert w.page.inner_text("#status") == "Cancelled."
    assert not (w.client.folder / "result").exists()
    assert w.page.is_hidden("#result")
    w.page.click("#start")
    w.shown("#result")


def test_failure_is_said_where_it_happened(window, commute, tmp_path):
    w = window()
    world = simulate(seed=8, rides=1, length_m=900, globe=Globe(lon_deg=-80.0, lat_deg=75.2))
    (tmp_path / "elsewhere.gpx").write_text(gpx_text(world.recordings[0]))
    w.choose(next(commute.rglob("*.gpx")), tmp_path / "elsewhere.gpx")
    w.shown("#check")
    w.page.click("#start")
    w.shown("#alert")
    assert "no two traces run the same way" in w.page.inner_text("#run #alert")
    assert w.page.is_enabled("#start")
    w.choose(*sorted(commute.rglob("*.gpx")))
    w.page.wait_for_selector("#table-place tbody tr >> nth=2")
    assert w.page.is_hidden("#alert")


@pytest.mark.slow
def test_reloaded_page_finds_the_run_under_way(window, commute):
    w = window()
    w.drag(commute)
    w.shown("#check")
    w.page.click("#start")
    w.shown("#running")
    w.page.reload()
    w.shown("#result")
    assert w.page.locator("#table-place tbody tr").count() == 8


def test_ended_session_leaves_nothing_on_the_screen(window, commute):
    w = window()
    w.drag(commute)
    w.shown("#check")
    w.client.server.stop()
    until(w.page, "fetch('./state').then(() => false, () => true)")
    w.page.click("#start")
    w.shown("#alert")
    assert "The session has ended" in w.page.inner_text("#alert")
    assert "Alder" not in w.page.content()


def test_all_by_keyboard(window, commute):
    w = window()

    def tab_to(selector):
        for _ in range(200):
            w.page.keyboard.press("Tab")
            if w.page.evaluate("s => document.activeElement.matches(s)", selector):
                return
        raise AssertionError(f"{selector} is not reached by the keyboard")

    choosers = []

    def choosing(chooser):
        choosers.append(chooser)

    w.page.on("filechooser", choosing)
    tab_to(".skip")
    tab_to("#choose-files")
    w.page.keyboard.press("Enter")
    for _ in range(200):
        if choosers:
            break
        w.page.wait_for_timeout(50)
    choosers[0].set_files([str(path) for path in sorted(commute.rglob("*.gpx"))])
    w.shown("#check")
    w.focus_on("check-head")
    tab_to("#receiver-0")
    w.page.keyboard.type("Elder")
    tab_to("#segment_m")
    w.page.keyboard.type("200")
    tab_to("#publish")
    w.page.keyboard.press("Space")
    tab_to("summary")
    w.page.keyboard.press("Enter")
    tab_to("#steady_m")
    w.page.keyboard.type("-3")
    w.page.keyboard.press("Enter")
    w.page.wait_for_selector("#steady_m[aria-invalid=true]")
    w.focus_on("steady_m")
    assert "is allowed" in w.page.inner_text("#steady_m-error")
    w.page.keyboard.press("Control+A")
    w.page.keyboard.type("3")
    w.page.keyboard.press("Enter")
    w.shown("#result")
    w.focus_on("result-head")
    tab_to("#open-report")
    tab_to("#save-all")
    settings = json.loads((w.client.folder / "result" / "result.json").read_text())
    assert settings["settings"]["segment_m"] == 200
    assert settings["published"] is True
    tab_to("#end")
    w.page.keyboard.press("Enter")
    w.focus_on("stay")
    w.page.keyboard.press("Tab")
    w.page.keyboard.press("Enter")
    until(w.page, "document.getElementById('alert').textContent.startsWith('The session has ended')")
    assert w.page.locator("#promise").count() == 0


def test_hostile_names_and_texts_stay_text(window, commute, tmp_path):
    payload = "<img src=x onerror=alert(1)><script>alert(2)</script>{{7*7}}"
    good = next(commute.rglob("*.gpx")).read_text()
    nasty = tmp_path / "nasty"
    nasty.mkdir()
    escaped = payload.replace("<", "&lt;").replace(">", "&gt;")
    name = "<img src=x onerror=alert(3)>.gpx"
    (nasty / name).write_text(good.replace("<trkseg>", f"<name>{escaped}</name><trkseg>", 1))
    (nasty / "<svg onload=alert(4)>.txt").write_text(payload)
    w = window()
    w.drag(nasty)
    w.shown("#check")
    assert "_img src=x onerror=alert(3)_.gpx" in w.page.inner_text("#table-place")
    w.page.fill("#note-0", payload)
    w.page.keyboard.press("Tab")
    until(w.page, "document.getElementById('status').textContent === 'Corrected.'")
    assert w.page.locator("main img, main script, main svg").count() == 0
    assert w.complaints == w.elsewhere == []


def test_no_script_of_another_site_gets_in(window, commute, tmp_path):
    """A page of another origin in the same browser tries to read, post, frame and link to the server."""
    w = window()
    w.choose(*commute.rglob("*.gpx"))
    w.shown("#check")
    before = w.client_state()
    (tmp_path / "evil").mkdir()
    (tmp_path / "evil" / "index.html").write_text(EVIL.replace("HOME", w.home))
    handler = functools.partial(_Quiet, directory=str(tmp_path / "evil"))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as evil:
        threading.Thread(target=evil.serve_forever, daemon=True).start()
        w.context.unroute_all()
        other = w.context.new_page()
        for host in ("127.0.0.1", "localhost"):
            other.goto(f"http://{host}:{evil.server_port}/index.html")
            until(other, "window.attempts === 7")
            assert other.evaluate("window.got") == []
            frames = [frame for frame in other.frames if frame != other.main_frame and frame.name == "framed"]
            assert all("Check what was read" not in (frame.content() or "") for frame in frames)
        evil.shutdown()
    assert w.client_state() == before


@pytest.mark.parametrize("scheme", first_quick(["light", "dark"]))
@pytest.mark.parametrize("size", first_quick(list(WIDTHS)))
def test_accessible_in_every_state(window, commute, axe, size, scheme):
    w = window(size, scheme)
    (commute / "broken.gpx").write_text("no trace at all")
    w.judge(axe, "empty")
    w.drag(commute)
    w.shown("#check")
    w.page.fill("#start_pressed-0", "half past six")
    w.page.keyboard.press("Tab")
    w.page.wait_for_selector("#start_pressed-0[aria-invalid=true]")
    w.page.click("#options summary")
    w.judge(axe, "table with an error and all settings")
    w.page.click("#start")
    w.shown("#running")
    w.judge(axe, "running")
    w.page.click("#cancel")
    w.shown("#stopped")
    w.judge(axe, "cancelled")
    w.page.click("#start")
    w.shown("#result")
    w.judge(axe, "result")
    w.page.click("#end")
    w.shown("#unsaved")
    w.judge(axe, "unsaved")
    w.page.click("#end-unsaved")
    w.shown("#alert")
    w.judge(axe, "ended")


def test_many_rows_at_once_and_undone(window, commute):
    """Clicked, with Shift, all of a ride, all alike; set, filled down, undone; the table of rides holds it."""
    w = window()
    w.drag(commute)
    w.shown("#check")
    assert w.page.is_disabled("#set-many")
    assert "Select one row" in w.page.inner_text("#many-why")
    w.page.click("td.is-way >> nth=0")
    w.page.click("td.is-way >> nth=2", modifiers=["Shift"])
    assert w.page.inner_text("#many-count") == "3 rows of 8 selected"
    w.page.click("#pick-alike")
    assert w.page.inner_text("#many-count") == "4 rows of 8 selected"
    w.page.fill("#many-value", "Elder")
    w.page.click("#set-many")
    until(w.page, "document.getElementById('receiver-3').value === 'Elder'")
    assert w.values("receiver") == ["Elder"] * 4 + ["Birch"] * 4
    w.page.click("#pick-none")
    w.page.click("td.is-way >> nth=0")
    w.page.click("#pick-ride")
    assert w.page.inner_text("#many-count") == "2 rows of 8 selected"
    w.page.click("#fill-down")
    until(w.page, "document.getElementById('undo').textContent === 'Undo (2)'")
    assert w.values("receiver").count("Elder") == 5
    with (w.client.folder / "rides.csv").open(newline="", encoding="utf-8") as file:
        assert [row["receiver"] for row in csv.DictReader(file)].count("Elder") == 5
    w.page.click("#undo")
    until(w.page, "document.getElementById('undo').textContent === 'Undo (1)'")
    w.page.click("#undo")
    until(w.page, "document.getElementById('undo').disabled")
    assert w.values("receiver") == ["Alder"] * 4 + ["Birch"] * 4
    assert w.complaints == w.elsewhere == []


def test_ending_with_an_unsaved_result_asks_first(window, commute, tmp_path):
    w = window()
    w.drag(commute)
    w.shown("#check")
    w.page.uncheck("#film")
    w.page.click("#start")
    w.shown("#result")
    w.page.click("#end")
    w.shown("#unsaved")
    w.focus_on("stay")
    w.page.click("#stay")
    assert w.page.is_hidden("#unsaved")
    w.save("#save-all", tmp_path)
    w.page.click("#end")
    w.shown("#alert")
    assert "The session has ended" in w.page.inner_text("#alert")
