"""The pages as text: their policy, their outline, the same bytes each time; browsers test the rest."""

import base64
import dataclasses
import hashlib
import json
import re
from html.parser import HTMLParser

import pytest

from records import PAYLOADS, make_analysis
from trackspread.errors import BadOption
from trackspread.report.page import map_page, report_page
from trackspread.report.policy import json_block, parse_basemap
from trackspread.results.document import result_document


class Reader(HTMLParser):
    """Collects what a parser finds: headings, scripts and styles, attributes, the policy."""

    def __init__(self, page):
        super().__init__(convert_charrefs=True)
        self.outline, self.inline, self.attributes, self.policy, self._open = [], {}, set(), "", []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        named = dict(attrs)
        self.attributes |= set(named)
        if named.get("http-equiv") == "Content-Security-Policy":
            self.policy = named["content"]
        if tag in ("h1", "h2", "h3", "style") or (tag == "script" and "type" not in named):
            self._open.append(tag)
            (self.outline if tag[0] == "h" else self.inline.setdefault(tag, [])).append("")

    def handle_data(self, data):
        if self._open:
            kept = self.outline if self._open[-1][0] == "h" else self.inline[self._open[-1]]
            kept[-1] += data

    def handle_endtag(self, tag):
        if self._open and self._open[-1] == tag:
            self._open.pop()


def pages(**made):
    analysis = make_analysis(**made)
    document = result_document(analysis)
    return report_page(analysis, document), map_page(analysis, document)


@pytest.mark.parametrize("hostile", [False, True])
def test_policy_names_every_script_and_style_and_nothing_else(hostile):
    # Content Security Policy Level 3 (W3C), 2.3.1: a hash-source is the base64 of the digest of the text.
    for page in pages(hostile=hostile):
        found = Reader(page)
        assert found.policy.startswith("default-src 'none'; ")
        assert "unsafe" not in found.policy
        for directive, tag in (("script-src", "script"), ("style-src", "style")):
            listed = re.search(rf"{directive} ([^;]*)", found.policy)[1].split()
            wanted = [
                "'sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() + "'"
                for text in found.inline[tag]
            ]
            assert listed == wanted
        assert not {name for name in found.attributes if name.startswith("on")}
        assert "style" not in found.attributes


def test_hostile_text_makes_no_element():
    plain, hostile = pages()[0], pages(hostile=True)[0]
    assert Reader(hostile).inline == Reader(plain).inline
    for payload in PAYLOADS:
        if "<" in payload:
            assert payload not in hostile


def test_outline_of_the_report():
    def scrubbed(text):
        return re.sub(r"\s+\d+$", "", text.strip())

    route = [
        "Spread along the route", "Offset of every trace from the centreline",
        "Do the watches differ on this route?", "Pairs along the route",
        "First fix and settled fix, ride by ride", "Film list",
        "Tables Watches, First and settled fixes, Segments, Stretches, Traces, Watches ridden together",
        "Watches", "First and settled fixes", "Segments", "Stretches", "Traces", "Watches ridden together",
    ]  # fmt: skip
    assert [scrubbed(text) for text in Reader(pages()[0]).outline] == [
        "Over 3 shared rides Alder was more consistent than Birch: SD 1.1\u00a0m lower "
        "(95\u00a0% interval 0.4 to 1.9\u00a0m). Copy",
        "out", *route, "back", *route,
        "Files", "Files read", "Method", "How it was found, and the settings", "Before you share",
    ]  # fmt: skip


def test_same_analysis_same_pages_but_for_the_time():
    assert pages(seed=7) == pages(seed=7)
    analysis = make_analysis(seed=7)
    later = dataclasses.replace(analysis, created_s=2_000_000_000.0)
    for make in (report_page, map_page):
        first, second = (make(a, result_document(a)) for a in (analysis, later))
        assert first != second
        assert first == second.replace("2033-05-18 03:33:20 UTC", "2026-01-01 00:00:00 UTC")


def test_privacy_line_knows_what_was_published():
    private, published = pages()[0], pages(published=True)[0]
    assert "Private:" in private
    assert "Shareable copy" in private
    assert "Ends cut for publication" in published
    assert "Private:" not in published
    assert "Shareable copy" not in published


def test_data_block_reads_back_and_closes_nothing():
    data = {"a": list(PAYLOADS), "b": None}
    block = json_block(data)
    assert json.loads(block) == data
    for sign in ("<", ">", "&", "\u2028", "\u2029"):
        assert sign not in block


def test_base_maps_are_checked():
    tiles = parse_basemap("https://{s}.tiles.example.org:8080/{z}/{x}/{y}.png", "Example mappers")
    assert tiles.source == "https://*.tiles.example.org:8080"
    for url, attribution in (
        ("file:///etc/{z}/{x}/{y}", "a"),
        ("javascript:alert(1)//{z}{x}{y}", "a"),
        ("https://tiles.example.org/{z}/{x}.png", "a"),
        ("https://tiles.example.org/{z}/{x}/{y}.png", " "),
        ("https://a b;script-src *//{z}/{x}/{y}.png", "a"),
        ("https://user:pw@tiles.example.org/{z}/{x}/{y}.png", "a"),
    ):
        with pytest.raises(BadOption):
            parse_basemap(url, attribution)


def test_policy_lets_in_the_asked_base_map_alone():
    analysis = make_analysis(routes=1)
    tiles = parse_basemap("https://tiles.example.org/{z}/{x}/{y}.png", "Example mappers")
    page = map_page(analysis, result_document(analysis), tiles)
    assert "img-src data: blob: https://tiles.example.org;" in Reader(page).policy
