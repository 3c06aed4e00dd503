"""Building blocks of the corpus: well-formed pieces, to be broken."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path

Kind = Callable[[Path], Path]
KINDS: dict[str, Kind] = {}
NS = "http://www.topografix.com/GPX/1/1"
XML = '<?xml version="1.0" encoding="UTF-8"?>\n'


def kind(function: Kind) -> Kind:
    """Enter a kind under its name."""
    KINDS[function.__name__.replace("_", " ").strip()] = function
    return function


def utc(second: int, day: int = 4, zone: str = "Z") -> str:
    return f"2031-07-{day:02d}T{6 + second // 3600:02d}:{second // 60 % 60:02d}:{second % 60:02d}{zone}"


def point(i: int, *, lat: str = "", lon: str = "", time: str | None = None, inner: str = "") -> str:
    lat, lon = lat or f"{75.15 + 4e-5 * i:.7f}", lon or f"{-87.3 + 1e-4 * i:.7f}"
    stamp = utc(i) if time is None else time
    return (
        f'<trkpt lat="{lat}" lon="{lon}">{inner}' + (f"<time>{stamp}</time>" if stamp else "") + "</trkpt>\n"
    )


def points(first: int, last: int) -> str:
    return "".join(point(i) for i in range(first, last))


def track(inside: str) -> str:
    return f"<trk><trkseg>\n{inside}</trkseg></trk>\n"


def gpx(
    inside: str, *, root: str = f'gpx version="1.1" creator="sedge" xmlns="{NS}"', head: str = XML
) -> str:
    return f"{head}<{root}>\n{inside}</{root.split(' ', maxsplit=1)[0]}>\n"


def saved(folder: Path, data: str | bytes, name: str = "a.gpx") -> Path:
    path = folder / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def changed(**of: str) -> str:
    """Return ten points of which number 5 is changed."""
    return gpx(track(points(0, 5) + point(5, **of) + points(6, 10)))


def zipped(folder: Path, members: dict[str, str | bytes], name: str = "a.zip") -> Path:
    with zipfile.ZipFile(folder / name, "w", zipfile.ZIP_DEFLATED) as archive:
        for member, data in members.items():
            archive.writestr(member, data)
    return folder / name


def sentence(body: str) -> str:
    """Return an NMEA 0183 sentence with its checksum (XOR of what stands between $ and *)."""
    total = 0
    for byte in body.encode():
        total ^= byte
    return f"${body}*{total:02X}\r\n"


def gga(second: int, quality: str = "1", clock: str | None = None) -> str:
    clock = clock if clock is not None else f"06{second // 60:02d}{second % 60:02d}.00"
    place = f"75{9 + 0.002 * second:07.4f},N,087{18 - 0.006 * second:07.4f},W" if quality != "0" else ",,,"
    return sentence(f"GPGGA,{clock},{place},{quality},08,0.9,45.4,M,46.9,M,,")


def rmc(second: int, status: str = "A", date: str = "040731", mode: str = "A") -> str:
    place = f"75{9 + 0.002 * second:07.4f},N,087{18 - 0.006 * second:07.4f},W" if status == "A" else ",,,"
    return sentence(
        f"GPRMC,06{second // 60:02d}{second % 60:02d}.00,{status},{place},10.0,084.4,{date},,,{mode}"
    )


GOOD = gpx(track(points(0, 10)))


def write_large(path: Path, megabytes: int) -> int:
    """Write a GPX file of about that size without holding it; return the number of its points."""
    count = megabytes * 2**20 // 100
    with path.open("w", encoding="utf-8") as file:
        head, _, tail = gpx(track("SPLIT")).partition("SPLIT")
        file.write(head)
        for i in range(count):
            stamp = utc(i % 43_200, day=1 + i // 43_200 % 28).replace(
                "2031-07", f"{2031 + i // 1_209_600}-07"
            )
            file.write(point(i % 20_000, time=stamp))
        file.write(tail)
    return count
