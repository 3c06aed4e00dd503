"""Kinds of GPX: namespaces, numbers, structure."""

from __future__ import annotations

from pathlib import Path

from corpus.blocks import GOOD, NS, XML, changed, gpx, kind, point, points, saved, track, utc


@kind
def no_namespace(folder: Path) -> Path:
    return saved(folder, gpx(track(points(0, 10)), root="gpx"))


@kind
def wrong_namespace(folder: Path) -> Path:
    return saved(folder, gpx(track(points(0, 10)), root='gpx xmlns="urn:example:elsewhere"'))


@kind
def prefixed_root(folder: Path) -> Path:
    body = track(points(0, 10)).replace("</", "</g:").replace("<t", "<g:t")
    return saved(folder, f'{XML}<g:gpx version="1.1" xmlns:g="{NS}">{body}</g:gpx>')


@kind
def version_1_0(folder: Path) -> Path:
    root = 'gpx version="1.0" creator="sedge" xmlns="http://www.topografix.com/GPX/1/0"'
    return saved(folder, gpx("<time>2031-07-04T05:59:30Z</time>" + track(points(0, 10)), root=root))


@kind
def version_of_the_future(folder: Path) -> Path:
    return saved(folder, gpx(track(points(0, 10)), root='gpx version="9.9"'))


@kind
def unknown_extensions(folder: Path) -> Path:
    inner = '<hdop>--</hdop><extensions><x:a xmlns:x="urn:example:x" b="c">1<x:d/></x:a></extensions>'
    return saved(folder, changed(inner=inner))


@kind
def latitude_91_5(folder: Path) -> Path:
    return saved(folder, changed(lat="91.5"))


@kind
def latitude_that_is_no_number(folder: Path) -> Path:
    return saved(folder, changed(lat="seventy"))


@kind
def latitude_nan(folder: Path) -> Path:
    return saved(folder, changed(lat="nan"))


@kind
def longitude_infinite(folder: Path) -> Path:
    return saved(folder, changed(lon="-inf"))


@kind
def longitude_1e400(folder: Path) -> Path:
    return saved(folder, changed(lon="1e400"))


@kind
def longitude_with_underscore(folder: Path) -> Path:
    return saved(folder, changed(lon="8_7.3"))


@kind
def longitude_in_other_digits(folder: Path) -> Path:
    return saved(folder, changed(lon="٨٧"))


@kind
def longitude_missing(folder: Path) -> Path:
    return saved(folder, GOOD.replace(' lon="-87.2995000"', ""))


@kind
def longitude_empty(folder: Path) -> Path:
    return saved(folder, GOOD.replace(' lon="-87.2995000"', ' lon=""'))


@kind
def decimal_commas(folder: Path) -> Path:
    return saved(folder, changed(lat="75,1502", lon="-87,2995", inner="<ele>12,5</ele>"))


@kind
def every_position_bad(folder: Path) -> Path:
    return saved(folder, gpx(track("".join(point(i, lat="200") for i in range(10)))))


@kind
def elevation_that_is_no_number(folder: Path) -> Path:
    return saved(folder, changed(inner="<ele>high</ele>"))


@kind
def point_at_0_0(folder: Path) -> Path:
    return saved(folder, changed(lat="0.0", lon="0.0"))


@kind
def ride_at_0_0(folder: Path) -> Path:
    inside = "".join(point(i, lat=f"{1e-4 * (i - 5):.5f}", lon=f"{1e-4 * (i - 5):.5f}") for i in range(10))
    return saved(folder, gpx(track(inside)))


@kind
def over_the_antimeridian(folder: Path) -> Path:
    lons = ["179.9998", "179.9999", "180", "-179.9999", "-179.9998"]
    return saved(folder, gpx(track("".join(point(i, lon=lon) for i, lon in enumerate(lons)))))


@kind
def at_the_pole(folder: Path) -> Path:
    return saved(folder, gpx(track("".join(point(i, lat="-90", lon=str(30 * i - 150)) for i in range(10)))))


@kind
def indoor_session(folder: Path) -> Path:
    inner = "<extensions><hr>90</hr></extensions>"
    bare = "".join(f"<trkpt>{inner}<time>{utc(i)}</time></trkpt>" for i in range(10))
    return saved(folder, gpx(track(bare)))


@kind
def no_points_at_all(folder: Path) -> Path:
    return saved(folder, gpx("<trk><name>nothing</name><trkseg></trkseg></trk>"))


@kind
def waypoints_only(folder: Path) -> Path:
    return saved(folder, gpx('<wpt lat="75.1" lon="-87.3"><name>ford</name></wpt>'))


@kind
def route_only(folder: Path) -> Path:
    return saved(folder, gpx('<rte><rtept lat="75.1" lon="-87.3"/><rtept lat="75.2" lon="-87.3"/></rte>'))


@kind
def three_tracks(folder: Path) -> Path:
    return saved(folder, gpx(track(points(0, 10)) + track(points(20, 30)) + track(points(40, 50))))


@kind
def two_tracks_one_without_positions(folder: Path) -> Path:
    return saved(folder, gpx(track(points(0, 10)) + track("".join(point(i, lat="x") for i in range(3)))))


@kind
def three_hundred_segments(folder: Path) -> Path:
    inside = "".join(f"<trkseg>{points(3 * i, 3 * i + 3)}</trkseg>" for i in range(300))
    return saved(folder, gpx(f"<trk>{inside}</trk>"))


@kind
def points_without_a_segment(folder: Path) -> Path:
    return saved(folder, gpx(f"<trk>{points(0, 10)}</trk>"))


@kind
def search_for_a_fix(folder: Path) -> Path:
    search = "".join(point(i, lat="0", lon="0", inner="<fix>none</fix>") for i in range(4))
    return saved(folder, gpx(track(search + points(4, 14))))


@kind
def start_in_the_metadata(folder: Path) -> Path:
    return saved(folder, gpx("<metadata><time>2031-07-04T05:59:20Z</time></metadata>" + track(points(0, 10))))


@kind
def start_in_the_metadata_a_day_early(folder: Path) -> Path:
    return saved(folder, gpx("<metadata><time>2031-07-03T06:00:00Z</time></metadata>" + track(points(0, 10))))


@kind
def single_point(folder: Path) -> Path:
    return saved(folder, gpx(track(points(0, 1))))


@kind
def two_points(folder: Path) -> Path:
    return saved(folder, gpx(track(points(0, 2))))


@kind
def all_points_equal(folder: Path) -> Path:
    inside = "".join(point(i, lat="75.15", lon="-87.3") for i in range(10))
    return saved(folder, gpx(track(inside)))


@kind
def at_the_north_pole(folder: Path) -> Path:
    return saved(folder, gpx(track("".join(point(i, lat="90", lon=str(30 * i - 150)) for i in range(10)))))


@kind
def point_on_the_far_side_of_the_earth(folder: Path) -> Path:
    return saved(folder, changed(lat="-75.1", lon="92.7"))


@kind
def points_all_over_the_earth(folder: Path) -> Path:
    inside = "".join(point(i, lat=f"{60 - 40 * (i % 4)}", lon=str(47 * i - 180)) for i in range(8))
    return saved(folder, gpx(track(inside)))


@kind
def longitude_of_180(folder: Path) -> Path:
    return saved(folder, gpx(track("".join(point(i, lon="180") for i in range(5)))))


@kind
def longitude_of_272_7(folder: Path) -> Path:
    return saved(folder, changed(lon="272.7"))


@kind
def smart_recording(folder: Path) -> Path:
    """A point only where speed or direction changes: steps of 2 to 60 s."""
    return saved(folder, gpx(track("".join(point(i) for i in (0, 2, 9, 11, 40, 100, 104, 160)))))


@kind
def two_sampling_rates(folder: Path) -> Path:
    return saved(folder, gpx(track(points(0, 10) + "".join(point(i) for i in range(10, 100, 10)))))


@kind
def empty_segments_between(folder: Path) -> Path:
    inside = "<trkseg/>".join(f"<trkseg>{points(5 * i, 5 * i + 5)}</trkseg>" for i in range(3))
    return saved(folder, gpx(f"<trk><trkseg></trkseg>{inside}</trk>"))


@kind
def everything_twice_in_two_tracks(folder: Path) -> Path:
    return saved(folder, gpx(2 * track(points(0, 10))))
