"""Content security policy of a finished page: nothing runs, styles or loads but what stands in it."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from trackspread.errors import BadOption

PLACE = "<!--policy-->"


def with_policy(page: str, images_from: str = "") -> str:
    """Return a page with a policy that names the hashes of its own scripts and styles (CSP level 3).

    Parameters
    ----------
    page : str
        HTML that holds `PLACE` once, in front of all scripts and styles.
    images_from : str
        One more source of images, that of a base map that was asked for.

    Returns
    -------
    str
    """
    scripts = " ".join(f"'{_digest(text)}'" for text in re.findall(r"<script>(.*?)</script>", page, re.S))
    styles = " ".join(f"'{_digest(text)}'" for text in re.findall(r"<style>(.*?)</style>", page, re.S))
    images = f"data: blob: {images_from}".rstrip()
    rules = (
        f"default-src 'none'; script-src {scripts}; style-src {styles}; img-src {images}; "
        "base-uri 'none'; form-action 'none'"
    )
    return page.replace(PLACE, f'<meta http-equiv="Content-Security-Policy" content="{rules}">', 1)


def json_block(data: Any) -> str:
    """Return JSON that can stand in a script element: no character in it opens or closes anything.

    Parameters
    ----------
    data : Any
        What JSON can hold; numbers are finite.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        A number is not finite.

    Examples
    --------
    >>> print(json_block("</script>"))
    "\\u003c/script\\u003e"
    """
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


@dataclass(frozen=True, kw_only=True, slots=True)
class Basemap:
    """Tiles that were asked for: their address with {z}, {x}, {y}, and the attribution shown with them."""

    url: str
    attribution: str

    @property
    def source(self) -> str:
        """Scheme and host from which the tiles come, as a source of a policy."""
        parts = urlsplit(self.url)
        return f"{parts.scheme}://{parts.netloc.replace('{s}', '*')}"


def parse_basemap(url: str, attribution: str) -> Basemap:
    """Return a base map from what the user typed.

    Parameters
    ----------
    url : str
        With ``{z}``, ``{x}`` and ``{y}``; its host may begin with ``{s}.``.
    attribution : str
        Shown on the map.

    Returns
    -------
    Basemap

    Raises
    ------
    BadOption
        The address has no host or lacks a placeholder, or there is no attribution.
    """
    parts = urlsplit(url)
    if parts.scheme not in ("https", "http") or not re.fullmatch(r"(\{s\}\.)?[\w.-]+(:\d+)?", parts.netloc):
        raise BadOption("basemap", "an address that begins with https:// is needed", repr(url[:80]))
    if not all(sign in url for sign in ("{z}", "{x}", "{y}")):
        raise BadOption("basemap", "{z}, {x} and {y} are needed in the address", repr(url[:80]))
    if not attribution.strip():
        raise BadOption("attribution", "whose map it is must stand on it, and nothing was given")
    return Basemap(url=url, attribution=attribution.strip())


def _digest(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
