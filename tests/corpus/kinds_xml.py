"""Kinds of text: encodings, half files, hostile and broken XML."""

from __future__ import annotations

import gzip
from pathlib import Path

from corpus.blocks import GOOD, XML, changed, gpx, kind, points, saved, track


@kind
def plain(folder: Path) -> Path:
    return saved(folder, GOOD)


@kind
def utf_8_with_mark(folder: Path) -> Path:
    return saved(folder, b"\xef\xbb\xbf" + GOOD.encode())


@kind
def utf_16_with_mark(folder: Path) -> Path:
    return saved(folder, GOOD.replace("UTF-8", "UTF-16").encode("utf-16"))


@kind
def utf_16_big_endian_without_mark(folder: Path) -> Path:
    return saved(folder, GOOD.replace("UTF-8", "UTF-16").encode("utf-16-be"))


@kind
def utf_16_declared_but_eight_bits(folder: Path) -> Path:
    return saved(folder, GOOD.replace("UTF-8", "UTF-16"))


@kind
def latin_1_declared(folder: Path) -> Path:
    text = gpx("<metadata><name>Fähre</name></metadata>" + track(points(0, 10))).replace(
        "UTF-8", "ISO-8859-1"
    )
    return saved(folder, text.encode("latin-1"))


@kind
def latin_1_undeclared(folder: Path) -> Path:
    return saved(
        folder, gpx("<metadata><name>Fähre</name></metadata>" + track(points(0, 10))).encode("latin-1")
    )


@kind
def unknown_encoding_declared(folder: Path) -> Path:
    return saved(folder, GOOD.replace("UTF-8", "x-wherever"))


@kind
def codec_that_is_no_text_declared(folder: Path) -> Path:
    return saved(folder, GOOD.replace("UTF-8", "punycode"))


@kind
def blanks_before_the_declaration(folder: Path) -> Path:
    return saved(folder, "\n\n  " + GOOD)


@kind
def empty(folder: Path) -> Path:
    return saved(folder, b"")


@kind
def only_blanks(folder: Path) -> Path:
    return saved(folder, b" \n\t\n")


@kind
def only_zero_bytes(folder: Path) -> Path:
    return saved(folder, bytes(5000))


@kind
def arbitrary_bytes(folder: Path) -> Path:
    return saved(folder, bytes((i * 73 + i * i // 7) % 256 for i in range(4000)))


@kind
def web_page(folder: Path) -> Path:
    return saved(folder, "<!DOCTYPE html>\n<html><body>Not found</body></html>")


@kind
def web_page_without_type(folder: Path) -> Path:
    return saved(folder, "<html><head></head><body>Please sign in</body></html>")


@kind
def other_xml(folder: Path) -> Path:
    return saved(folder, XML + "<invoice><trkpt lat='1' lon='2'/></invoice>")


@kind
def json_in_a_gpx(folder: Path) -> Path:
    return saved(folder, '{"type": "FeatureCollection", "features": []}')


@kind
def picture_in_a_gpx(folder: Path) -> Path:
    return saved(folder, b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 4)


@kind
def gzip_in_a_gpx(folder: Path) -> Path:
    return saved(folder, gzip.compress(GOOD.encode()))


@kind
def truncated_in_a_tag(folder: Path) -> Path:
    return saved(folder, GOOD[: GOOD.rindex("<trkpt") + 12])


@kind
def truncated_between_points(folder: Path) -> Path:
    return saved(folder, GOOD[: GOOD.rindex("<trkpt")])


@kind
def truncated_before_the_first_point(folder: Path) -> Path:
    return saved(folder, GOOD[: GOOD.index("<trkpt")])


@kind
def truncated_in_a_utf_16_character(folder: Path) -> Path:
    return saved(folder, GOOD.encode("utf-16")[: len(GOOD)] + b"\x3c")


@kind
def two_files_in_a_row(folder: Path) -> Path:
    return saved(folder, GOOD + GOOD)


@kind
def text_after_the_end(folder: Path) -> Path:
    return saved(folder, GOOD + "bye")


@kind
def one_file_within_another(folder: Path) -> Path:
    return saved(folder, gpx(track(points(0, 5)) + GOOD.removeprefix(XML)))


@kind
def entity_bomb(folder: Path) -> Path:
    entities = "".join(f'<!ENTITY e{i} "{f"&e{i - 1};" * 10}">' for i in range(1, 10))
    return saved(
        folder, f'{XML}<!DOCTYPE gpx [<!ENTITY e0 "ha">{entities}]><gpx><trk><name>&e9;</name></trk></gpx>'
    )


@kind
def quadratic_entity(folder: Path) -> Path:
    text = (
        f'{XML}<!DOCTYPE gpx [<!ENTITY a "{"a" * 50_000}">]><gpx><trk><name>{"&a;" * 5000}</name></trk></gpx>'
    )
    return saved(folder, text)


@kind
def external_entity(folder: Path) -> Path:
    text = '<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/hostname">]><gpx><trk><name>&x;</name></trk></gpx>'
    return saved(folder, XML + text)


@kind
def external_document_type(folder: Path) -> Path:
    return saved(folder, f'{XML}<!DOCTYPE gpx SYSTEM "http://localhost:9/x.dtd">{GOOD.removeprefix(XML)}')


@kind
def document_type_in_utf_16(folder: Path) -> Path:
    text = f'<!DOCTYPE gpx [<!ENTITY a "b">]>{GOOD.removeprefix(XML)}'
    return saved(folder, text.encode("utf-16"))


@kind
def huge_depth(folder: Path) -> Path:
    return saved(folder, gpx("<extensions>" * 200_000))


@kind
def depth_inside_a_point(folder: Path) -> Path:
    return saved(folder, changed(inner="<extensions>" + "<a>" * 100 + "</a>" * 100 + "</extensions>"))


@kind
def long_attribute(folder: Path) -> Path:
    return saved(folder, changed(lat="7" * 2_000_000))


@kind
def ten_thousand_attributes(folder: Path) -> Path:
    many = " ".join(f'a{i}="1"' for i in range(10_000))
    return saved(folder, gpx(track(points(0, 10)), root=f"gpx {many}"))


@kind
def script_in_names(folder: Path) -> Path:
    name = "<name>&lt;script&gt;alert(1)&lt;/script&gt; {{ 7*7 }} ${x} =1+1</name>"
    return saved(folder, gpx(f"<trk>{name}<trkseg>{points(0, 10)}</trkseg></trk>"))


@kind
def direction_marks_in_names(folder: Path) -> Path:
    name = "<name>good\u202egpx.exe\u2066\n\nsecond line</name>"
    return saved(folder, gpx(f"<trk>{name}<trkseg>{points(0, 10)}</trkseg></trk>"))


@kind
def bare_ampersand(folder: Path) -> Path:
    return saved(folder, gpx(f"<trk><name>Bread & Butter</name><trkseg>{points(0, 10)}</trkseg></trk>"))


@kind
def entity_of_web_pages(folder: Path) -> Path:
    return saved(folder, gpx(f"<trk><name>a&nbsp;b</name><trkseg>{points(0, 10)}</trkseg></trk>"))


@kind
def control_character(folder: Path) -> Path:
    return saved(folder, gpx(f"<trk><name>a\x0bb\x00</name><trkseg>{points(0, 10)}</trkseg></trk>"))


@kind
def undeclared_prefix(folder: Path) -> Path:
    return saved(folder, changed(inner="<extensions><zz:rate>120</zz:rate></extensions>"))


@kind
def mismatched_tags(folder: Path) -> Path:
    return saved(folder, gpx(f"<trk><trkseg>{points(0, 7)}</trk></trkseg>"))


@kind
def utf_16_little_endian_without_mark(folder: Path) -> Path:
    return saved(folder, GOOD.replace("UTF-8", "UTF-16").encode("utf-16-le"))


@kind
def utf_32(folder: Path) -> Path:
    return saved(folder, GOOD.replace("UTF-8", "UTF-32").encode("utf-32"))


@kind
def two_marks_of_byte_order(folder: Path) -> Path:
    return saved(folder, b"\xef\xbb\xbf\xef\xbb\xbf" + GOOD.encode())


@kind
def bad_byte_in_utf_8(folder: Path) -> Path:
    return saved(
        folder,
        gpx(f"<trk><name>a\x00b</name><trkseg>{points(0, 10)}</trkseg></trk>")
        .encode()
        .replace(b"\x00", b"\xc3"),
    )


@kind
def line_ends_of_three_kinds(folder: Path) -> Path:
    return saved(folder, GOOD.replace("\n", "\r\n", 4).replace("</trkpt>\n", "</trkpt>\r"))


@kind
def all_in_one_line(folder: Path) -> Path:
    return saved(folder, GOOD.replace("\n", ""))


@kind
def points_in_a_comment(folder: Path) -> Path:
    return saved(folder, gpx(track(points(0, 5) + f"<!-- {points(5, 10)} -->")))


@kind
def points_as_character_data(folder: Path) -> Path:
    return saved(folder, gpx(track(points(0, 5) + f"<![CDATA[ {points(5, 10)} ]]>")))


@kind
def style_sheet_from_elsewhere(folder: Path) -> Path:
    return saved(folder, GOOD.replace("?>\n", '?>\n<?xml-stylesheet href="http://localhost:9/x.xsl"?>\n', 1))


@kind
def other_file_asked_to_be_included(folder: Path) -> Path:
    inner = (
        '<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" href="file:///etc/hostname" parse="text"/>'
    )
    return saved(folder, gpx(f"<trk><name>{inner}</name><trkseg>{points(0, 10)}</trkseg></trk>"))


@kind
def numeric_references(folder: Path) -> Path:
    return saved(folder, gpx(f"<trk><name>&#x202e;&#10;a</name><trkseg>{points(0, 10)}</trkseg></trk>"))


@kind
def reference_to_a_character_that_cannot_be(folder: Path) -> Path:
    return saved(folder, gpx(f"<trk><name>a&#0;b</name><trkseg>{points(0, 10)}</trkseg></trk>"))


@kind
def attribute_twice(folder: Path) -> Path:
    return saved(folder, GOOD.replace('lat="75.1502000"', 'lat="75.1502000" lat="1"'))


@kind
def capitals(folder: Path) -> Path:
    return saved(folder, GOOD.replace("trkpt", "TRKPT"))


@kind
def version_1_1_of_xml(folder: Path) -> Path:
    return saved(folder, GOOD.replace('version="1.0"', 'version="1.1"', 1))
