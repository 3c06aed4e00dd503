"""Kinds of archives, folders and names."""

from __future__ import annotations

import gzip
import os
import warnings
import zipfile
import zlib
from pathlib import Path

from corpus.blocks import GOOD, kind, saved, zipped


@kind
def gzip_member(folder: Path) -> Path:
    return saved(folder, gzip.compress(GOOD.encode()), "a.gpx.gz")


@kind
def gzip_truncated(folder: Path) -> Path:
    return saved(folder, gzip.compress(GOOD.encode())[:-30], "a.gpx.gz")


@kind
def gzip_that_is_none(folder: Path) -> Path:
    return saved(folder, GOOD, "a.gpx.gz")


@kind
def gzip_bomb(folder: Path) -> Path:
    packer = zlib.compressobj(9, zlib.DEFLATED, 31)
    return saved(
        folder, b"".join([*(packer.compress(bytes(2**20)) for _ in range(40)), packer.flush()]), "a.gpx.gz"
    )


@kind
def zip_with_folders(folder: Path) -> Path:
    return zipped(folder, {"sedge/a.gpx": GOOD, "moss/deep/a.gpx": GOOD, "moss/notes.txt": "hello"})


@kind
def zip_with_paths_upwards(folder: Path) -> Path:
    return zipped(folder, {"../../evil.gpx": GOOD, "/etc/evil.gpx": GOOD})


@kind
def zip_bomb(folder: Path) -> Path:
    return zipped(folder, {"a.gpx": bytes(5 * 2**20), "b.gpx": GOOD})


@kind
def zip_in_a_zip(folder: Path) -> Path:
    inner = zipped(folder, {"a.gpx": GOOD}, "inner.zip").read_bytes()
    return zipped(folder, {"inner.zip": inner, "b.gpx": GOOD}, "outer.zip")


@kind
def zip_with_a_bad_member(folder: Path) -> Path:
    path = zipped(folder, {"a.gpx": GOOD, "b.gpx": GOOD.replace("sedge", "moss")})
    data = bytearray(path.read_bytes())
    data[60] ^= 0xFF
    path.write_bytes(bytes(data))
    return path


@kind
def zip_that_is_none(folder: Path) -> Path:
    return saved(folder, GOOD, "a.zip")


@kind
def zip_without_traces(folder: Path) -> Path:
    return zipped(folder, {"readme.txt": "hello"})


@kind
def folder_with_other_files(folder: Path) -> Path:
    saved(folder, GOOD)
    for name in ("notes.txt", ".hidden.gpx", "map.png", "report.html", "pulse.csv", "README"):
        saved(folder, b"\x00\x01 other", name)
    return folder


@kind
def folder_with_an_unknown_format(folder: Path) -> Path:
    saved(folder, GOOD)
    saved(folder, bytes(range(200)), "a.abc")
    return folder


@kind
def folder_that_is_empty(folder: Path) -> Path:
    return folder


@kind
def folder_with_a_loop_of_links(folder: Path) -> Path:
    saved(folder, GOOD)
    (folder / "loop").symlink_to(folder, target_is_directory=True)
    (folder / "self.gpx").symlink_to(folder / "self.gpx")
    (folder / "again.gpx").symlink_to(folder / "a.gpx")
    return folder


@kind
def folder_with_a_pipe(folder: Path) -> Path:
    saved(folder, GOOD)
    os.mkfifo(folder / "pipe.gpx")
    return folder


@kind
def name_with_quotes_and_markup(folder: Path) -> Path:
    return saved(folder, GOOD, "a'b\"c<b>{{x}}.gpx")


@kind
def name_with_line_break_and_direction_mark(folder: Path) -> Path:
    return saved(folder, GOOD, "a\nb\u202expg.gpx")


@kind
def name_that_is_no_text(folder: Path) -> Path:
    path = os.path.join(os.fsencode(folder), b"a\xff\xfe.gpx")
    with open(path, "wb") as file:
        file.write(GOOD.encode())
    return Path(os.fsdecode(path))


@kind
def name_without_suffix(folder: Path) -> Path:
    return saved(folder, GOOD, "trace")


@kind
def file_that_is_not_there(folder: Path) -> Path:
    return folder / "nowhere.gpx"


@kind
def link_to_nowhere(folder: Path) -> Path:
    (folder / "a.gpx").symlink_to(folder / "nowhere.gpx")
    return folder / "a.gpx"


@kind
def notes_named_one_by_one(folder: Path) -> Path:
    return saved(folder, "Tuesday, rain.", "notes.txt")


@kind
def gzip_in_a_gzip(folder: Path) -> Path:
    return saved(folder, gzip.compress(gzip.compress(GOOD.encode())), "a.gpx.gz")


@kind
def gzip_of_two_members(folder: Path) -> Path:
    half = len(GOOD) // 2
    return saved(
        folder, gzip.compress(GOOD[:half].encode()) + gzip.compress(GOOD[half:].encode()), "a.gpx.gz"
    )


@kind
def gzip_with_rubbish_after(folder: Path) -> Path:
    return saved(folder, gzip.compress(GOOD.encode()) + b"rubbish", "a.gpx.gz")


@kind
def zip_with_a_link(folder: Path) -> Path:
    with zipfile.ZipFile(folder / "a.zip", "w") as archive:
        link = zipfile.ZipInfo("link.gpx")
        link.external_attr = 0o120777 << 16
        archive.writestr(link, "/etc/hostname")
        archive.writestr("a.gpx", GOOD)
    return folder / "a.zip"


@kind
def zip_with_one_name_twice(folder: Path) -> Path:
    with zipfile.ZipFile(folder / "a.zip", "w") as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        archive.writestr("a.gpx", GOOD)
        archive.writestr("a.gpx", GOOD)
    return folder / "a.zip"


@kind
def zip_with_backslashes(folder: Path) -> Path:
    return zipped(folder, {"..\\..\\evil.gpx": GOOD})


@kind
def zip_with_a_password(folder: Path) -> Path:
    data = bytearray(zipped(folder, {"a.gpx": GOOD}).read_bytes())
    data[6] |= 1
    data[data.index(b"PK\x01\x02") + 8] |= 1
    return saved(folder, bytes(data), "a.zip")


@kind
def zip_of_a_size_that_is_a_lie(folder: Path) -> Path:
    data = bytearray(zipped(folder, {"a.gpx": GOOD}).read_bytes())
    at = data.index(b"PK\x01\x02")
    data[at + 24 : at + 28] = (20).to_bytes(4, "little")
    return saved(folder, bytes(data), "a.zip")


@kind
def zip_truncated(folder: Path) -> Path:
    return saved(folder, zipped(folder, {"a.gpx": GOOD}).read_bytes()[:-30], "a.zip")


@kind
def folder_with_links_to_outside(folder: Path) -> Path:
    inside = folder / "inside"
    inside.mkdir()
    (folder / "outside").mkdir()
    saved(folder / "outside", GOOD, "b.gpx")
    saved(inside, GOOD)
    (inside / "folder").symlink_to(folder / "outside", target_is_directory=True)
    (inside / "file.gpx").symlink_to(folder / "outside" / "b.gpx")
    return inside


@kind
def folder_named_like_a_file(folder: Path) -> Path:
    (folder / "a.gpx").mkdir()
    saved(folder / "a.gpx", GOOD, "b.gpx")
    return folder / "a.gpx"


@kind
def name_of_250_letters(folder: Path) -> Path:
    return saved(folder, GOOD, "n" * 246 + ".gpx")


@kind
def name_of_blanks(folder: Path) -> Path:
    return saved(folder, GOOD, "   .gpx")


@kind
def name_with_a_pattern(folder: Path) -> Path:
    return saved(folder, GOOD, "[a-z]*?.gpx")


@kind
def name_in_capitals(folder: Path) -> Path:
    return saved(folder, GOOD, "A.GPX")
