"""Kinds of the other formats: NMEA 0183, KML, CSV, Parquet."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from corpus.blocks import gga, kind, rmc, saved, sentence, utc, zipped


@kind
def nmea_log(folder: Path) -> Path:
    return saved(folder, "".join(gga(i) + rmc(i) for i in range(10)), "a.nmea")


@kind
def nmea_log_in_a_text_file(folder: Path) -> Path:
    return saved(folder, "# a note\n" + "".join(gga(i) + rmc(i) for i in range(10)), "a.txt")


@kind
def nmea_with_time_stamps_before(folder: Path) -> Path:
    return saved(folder, "".join(f"[{i}.5] {rmc(i)}" for i in range(10)), "a.log")


@kind
def nmea_bad_checksum(folder: Path) -> Path:
    lines = [rmc(i) for i in range(10)]
    lines[5] = lines[5].replace("75", "76", 1)
    return saved(folder, "".join(lines), "a.nmea")


@kind
def nmea_without_checksums(folder: Path) -> Path:
    return saved(folder, "".join(rmc(i).partition("*")[0] + "\n" for i in range(10)), "a.nmea")


@kind
def nmea_search_for_a_fix(folder: Path) -> Path:
    lines = [gga(i, quality="0" if i < 4 else "1") + rmc(i, status="V" if i < 4 else "A") for i in range(14)]
    return saved(folder, "".join(lines), "a.nmea")


@kind
def nmea_never_a_fix(folder: Path) -> Path:
    return saved(folder, "".join(gga(i, quality="0") for i in range(10)), "a.nmea")


@kind
def nmea_without_date(folder: Path) -> Path:
    return saved(folder, "".join(gga(i) for i in range(10)), "a.nmea")


@kind
def nmea_over_midnight(folder: Path) -> Path:
    times = [f"2359{55 + i:02d}.00" if i < 5 else f"0000{i - 5:02d}.00" for i in range(10)]
    first = sentence("GPRMC,235954.00,A,7509.0000,N,08718.0000,W,10.0,084.4,040731,,,A")
    return saved(folder, first + "".join(gga(i, clock=time) for i, time in enumerate(times)), "a.nmea")


@kind
def nmea_simulated(folder: Path) -> Path:
    return saved(folder, "".join(gga(i, quality="8") for i in range(10)), "a.nmea")


@kind
def nmea_too_few_fields(folder: Path) -> Path:
    return saved(folder, rmc(0) + sentence("GPRMC,060001.00,A,7509.0") + rmc(2), "a.nmea")


@kind
def nmea_place_that_cannot_be(folder: Path) -> Path:
    bad = sentence("GPRMC,060001.00,A,9959.0000,N,18759.0000,W,10.0,084.4,040731,,,A")
    return saved(folder, rmc(0) + bad + rmc(2), "a.nmea")


@kind
def nmea_leap_second(folder: Path) -> Path:
    clocks = ["235958", "235959", "235960", "000000"]
    body = "A,7509.00{},N,08718.0000,W,10.0,084.4,{},,,A"
    days = ["311216", "311216", "311216", "010117"]
    lines = [
        sentence(f"GPRMC,{c}.00," + body.format(i * 10, d))
        for i, (c, d) in enumerate(zip(clocks, days, strict=True))
    ]
    return saved(folder, "".join(lines), "a.nmea")


KML = '<kml xmlns="http://www.opengis.net/kml/2.3"><Document><Placemark><name>out</name>{}</Placemark></Document></kml>'


def kml_track(count: int, *, places: int | None = None, prefix: str = "") -> str:
    whens = "".join(f"<when>{utc(i)}</when>" for i in range(count))
    coords = "".join(
        f"<{prefix}coord>{-87.3 + 1e-4 * i:.6f} {75.15 + 4e-5 * i:.6f} 12.5</{prefix}coord>"
        for i in range(count if places is None else places)
    )
    return f"<{prefix}Track>{whens}{coords}</{prefix}Track>"


@kind
def kml_track_2_3(folder: Path) -> Path:
    return saved(folder, KML.format(kml_track(10)), "a.kml")


@kind
def kml_track_with_prefix(folder: Path) -> Path:
    text = KML.format(kml_track(10, prefix="gx:")).replace("kml/2.3", "kml/2.2")
    return saved(folder, text.replace("<kml ", '<kml xmlns:gx="urn:example:gx" '), "a.kml")


@kind
def kml_prefix_undeclared(folder: Path) -> Path:
    return saved(folder, KML.format(kml_track(10, prefix="gx:")), "a.kml")


@kind
def kml_several_tracks_in_one(folder: Path) -> Path:
    second = kml_track(20).replace("T06:00:", "T06:30:")
    return saved(folder, KML.format(f"<MultiTrack>{kml_track(10)}{second}</MultiTrack>"), "a.kml")


@kind
def kml_unequal_lists(folder: Path) -> Path:
    return saved(folder, KML.format(kml_track(10, places=8)), "a.kml")


@kind
def kml_empty_places(folder: Path) -> Path:
    text = kml_track(10).replace("<coord>-87.300000 75.150000 12.5</coord>", "<coord/>")
    return saved(folder, KML.format(text), "a.kml")


@kind
def kml_line_without_times(folder: Path) -> Path:
    line = " ".join(f"{-87.3 + 1e-4 * i:.6f},{75.15 + 4e-5 * i:.6f},1" for i in range(10))
    return saved(
        folder, KML.format(f"<LineString><coordinates>\n{line}\n</coordinates></LineString>"), "a.kml"
    )


@kind
def kml_latitude_before_longitude(folder: Path) -> Path:
    line = " ".join(f"{75.15 + 4e-5 * i:.6f},{-97.3 + 1e-4 * i:.6f}" for i in range(10))
    return saved(folder, KML.format(f"<LineString><coordinates>{line}</coordinates></LineString>"), "a.kml")


@kind
def kml_places_only(folder: Path) -> Path:
    return saved(folder, KML.format("<Point><coordinates>-87.3,75.15</coordinates></Point>"), "a.kml")


@kind
def kml_entity_bomb(folder: Path) -> Path:
    return saved(folder, f'<!DOCTYPE kml [<!ENTITY a "b">]>{KML.format(kml_track(10))}', "a.kml")


@kind
def kml_truncated(folder: Path) -> Path:
    return saved(folder, KML.format(kml_track(10))[:-60], "a.kml")


@kind
def kml_packed(folder: Path) -> Path:
    return zipped(folder, {"doc.kml": KML.format(kml_track(10)), "files/a.png": b"\x89PNG"}, "a.kmz")


def rows(delimiter: str = ",", comma: str = ".", count: int = 10) -> Iterator[str]:
    for i in range(count):
        lon, lat = f"{-87.3 + 1e-4 * i:.6f}", f"{75.15 + 4e-5 * i:.6f}"
        yield delimiter.join([utc(i), lon.replace(".", comma), lat.replace(".", comma)]) + "\n"


@kind
def csv_table(folder: Path) -> Path:
    return saved(folder, "time,lon,lat\n" + "".join(rows()), "a.csv")


@kind
def csv_with_semicolons_and_decimal_commas(folder: Path) -> Path:
    return saved(folder, "\ufeffTimestamp;Longitude;Latitude\n" + "".join(rows(";", ",")), "a.csv")


@kind
def csv_with_tabs(folder: Path) -> Path:
    return saved(folder, "time\tlon\tlat\n" + "".join(rows("\t")), "a.tsv")


@kind
def csv_seconds_since_1970(folder: Path) -> Path:
    body = "".join(f"{1_940_911_200 + i},{-87.3 + 1e-4 * i},{75.15 + 4e-5 * i}\n" for i in range(10))
    return saved(folder, "time,lon,lat\n" + body, "a.csv")


@kind
def csv_of_two_receivers(folder: Path) -> Path:
    body = "".join(f"{row.strip()},{name}\n" for name in ("sedge", "moss") for row in rows())
    return saved(folder, "time,lon,lat,receiver\n" + body, "a.csv")


@kind
def csv_short_rows(folder: Path) -> Path:
    return saved(
        folder, "time,lon,lat\n" + "".join(rows(count=5)) + "2031\n" + "".join(rows())[5 * 40 :], "a.csv"
    )


@kind
def csv_without_positions(folder: Path) -> Path:
    return saved(folder, "time,pulse\n" + "1,90\n" * 10, "a.csv")


@kind
def csv_with_a_huge_cell(folder: Path) -> Path:
    return saved(folder, "time,lon,lat\n" + "".join(rows()) + f'"{"x" * 300_000}",1,2\n', "a.csv")


@kind
def csv_with_an_open_quote(folder: Path) -> Path:
    return saved(folder, 'time,lon,lat\n"' + "".join(rows()), "a.csv")


@kind
def csv_header_only(folder: Path) -> Path:
    return saved(folder, "time,lon,lat\n", "a.csv")


def parquet(folder: Path, columns: dict[str, object]) -> Path:
    import pyarrow as pa
    import pyarrow.parquet as pq

    pq.write_table(pa.table(columns), folder / "a.parquet")
    return folder / "a.parquet"


@kind
def parquet_table(folder: Path) -> Path:
    import pyarrow as pa

    times = pa.array([1_940_911_200_000 + 1000 * i for i in range(10)], pa.timestamp("ms", tz="UTC"))
    lon, lat = [-87.3 + 1e-4 * i for i in range(10)], [75.15 + 4e-5 * i for i in range(10)]
    return parquet(folder, {"time": times, "lon": lon, "lat": lat})


@kind
def parquet_without_positions(folder: Path) -> Path:
    return parquet(folder, {"time": [1, 2, 3]})


@kind
def parquet_of_nested_columns(folder: Path) -> Path:
    return parquet(folder, {"lon": [[1.0], [2.0]], "lat": [{"a": 1.0}, {"a": 2.0}]})


@kind
def parquet_truncated(folder: Path) -> Path:
    path = parquet_table(folder)
    path.write_bytes(path.read_bytes()[:-20])
    return path


@kind
def csv_with_zero_bytes(folder: Path) -> Path:
    return saved(folder, "time,lon,lat\n" + "".join(rows()).replace(",", ",\x00", 1), "a.csv")


@kind
def csv_in_utf_16(folder: Path) -> Path:
    return saved(folder, ("time,lon,lat\n" + "".join(rows())).encode("utf-16"), "a.csv")


@kind
def csv_with_wild_numbers(folder: Path) -> Path:
    wild = "".join(f",{lon},75\n" for lon in ("nan", "inf", "1e400", "0x10", "8_7", "", "181"))
    return saved(folder, "time,lon,lat\n" + "".join(rows()) + wild, "a.csv")


@kind
def csv_with_formulas(folder: Path) -> Path:
    body = "".join(f"{row.strip()},=1+1\n" for row in rows())
    return saved(folder, "time,lon,lat,receiver\n" + body, "a.csv")


@kind
def nmea_of_a_line_without_end(folder: Path) -> Path:
    return saved(folder, rmc(0) + "$GPRMC," + "9" * 1_000_000 + "\n" + rmc(2), "a.nmea")


@kind
def kml_with_places_that_cannot_be(folder: Path) -> Path:
    text = kml_track(10).replace("-87.299500 75.150200", "nan inf").replace("-87.299400", "-87,2994")
    return saved(folder, KML.format(text), "a.kml")


@kind
def kml_link_to_elsewhere(folder: Path) -> Path:
    link = "<NetworkLink><Link><href>http://localhost:9/x.kml</href></Link></NetworkLink>"
    return saved(folder, KML.format(kml_track(10)).replace("<Placemark>", link + "<Placemark>"), "a.kml")
