"""What one analysis wrote: the only files that are handed out, each under a policy that fits it."""

from __future__ import annotations

import types
import zipfile
from collections.abc import Iterable
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

from starlette.responses import FileResponse

ZIP_NAME = "trackspread-result.zip"

_CLOSED = "default-src 'none'; sandbox; frame-ancestors 'none'"
_PICTURE = "default-src 'none'; style-src 'unsafe-inline'; sandbox; frame-ancestors 'none'"
"""A browser shows a picture in a page of its own making, with style in it."""
_PAGE = "{declared}; sandbox allow-scripts allow-downloads allow-modals; frame-ancestors 'none'"
_SHOWN = types.MappingProxyType({".html": "text/html; charset=utf-8", ".png": "image/png"})
_ZIP_TIME = (1980, 1, 1, 0, 0, 0)  # the earliest time that an archive can hold


@dataclass(frozen=True, kw_only=True, slots=True)
class Results:
    """The written files by their path below ``folder``, and the archive of all once it is there."""

    folder: Path
    names: tuple[str, ...]

    def sizes(self) -> dict[str, int]:
        """Return the bytes of each file.

        Returns
        -------
        dict of int
            By the path below ``folder``.
        """
        return {name: (self.folder / name).stat().st_size for name in self.names}

    def with_one(self, name: str) -> Results:
        """Return the same with one more file.

        Parameters
        ----------
        name : str
            Its path below ``folder``.

        Returns
        -------
        Results
        """
        return Results(folder=self.folder, names=tuple(sorted((*self.names, name))))

    def answer(self, name: str, save: bool) -> FileResponse | None:
        """Return a file as an answer of the server, under the policy that fits it.

        Parameters
        ----------
        name : str
            Its path below ``folder``, as the browser asked for it.
        save : bool
            To be stored, not shown.

        Returns
        -------
        FileResponse or None
            ``None`` for whatever is not on the list.
        """
        if name not in self.names:
            return None
        path = self.folder / name
        shown = "" if save else _SHOWN.get(path.suffix, "")
        return FileResponse(
            path,
            media_type=shown or "application/octet-stream",
            filename=path.name,
            content_disposition_type="inline" if shown else "attachment",
            headers={"Content-Security-Policy": _policy(path) if shown else _CLOSED},
        )


def results_of(folder: Path, written: Iterable[Path]) -> Results:
    """Return the list of what may be handed out: the files that were written.

    Parameters
    ----------
    folder : Path
    written : iterable of Path
        Below ``folder``; folders among them are passed over.

    Returns
    -------
    Results
    """
    names = (path.relative_to(folder).as_posix() for path in written if path.is_file())
    return Results(folder=folder, names=tuple(sorted(names)))


def pack(folder: Path, written: Iterable[Path]) -> Results:
    """Put all written files into one archive beside them: the same files, the same bytes.

    Parameters
    ----------
    folder : Path
    written : iterable of Path
        Below ``folder``.

    Returns
    -------
    Results
        What may be handed out, the archive (`ZIP_NAME`) last.

    Raises
    ------
    FileExistsError
        There is an archive already.
    """
    results = results_of(folder, written)
    with zipfile.ZipFile(folder / ZIP_NAME, "x", zipfile.ZIP_DEFLATED) as archive:
        for name in results.names:
            member = zipfile.ZipInfo(f"trackspread-result/{name}", _ZIP_TIME)
            member.compress_type = zipfile.ZIP_DEFLATED
            member.external_attr = 0o644 << 16
            with (folder / name).open("rb") as source, archive.open(member, "w", force_zip64=True) as target:
                while block := source.read(1 << 20):
                    target.write(block)
    return Results(folder=folder, names=(*results.names, ZIP_NAME))


def _policy(path: Path) -> str:
    """Return the policy under which a written file is shown: a page's own, and apart from the session.

    In its sandbox it has an origin of its own: whatever it held, it could not speak to this server.
    """
    if path.suffix == ".png":
        return _PICTURE
    declared = _declared_policy(path)
    return _PAGE.format(declared=declared) if declared else _CLOSED


def _declared_policy(page: Path) -> str:
    """Return the content security policy that the head of ``page`` declares, ``""`` without any."""
    finder = _PolicyFinder()
    with page.open(encoding="utf-8") as file:
        while not finder.over and (block := file.read(1 << 16)):
            finder.feed(block)
    return finder.policy


class _PolicyFinder(HTMLParser):
    """Reads ``meta http-equiv=Content-Security-Policy`` up to the first script, style or the body."""

    def __init__(self) -> None:
        super().__init__()
        self.policy = ""
        self.over = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if self.over:
            return
        values = dict(attrs)
        if tag == "meta" and (values.get("http-equiv") or "").lower() == "content-security-policy":
            self.policy = " ".join((values.get("content") or "").split())
        self.over = bool(self.policy) or tag in ("script", "style", "body")
