"""One secret cut a place, the same whatever is run how often.

Two publications of one place with different cuts tell more than one. So this machine keeps a secret, and the
places that were cut before: what starts or ends near one of them is cut by the same disc.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import random
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from trackspread.geometry.discs import Draw, geocentric
from trackspread.system.folders import data_folder
from trackspread.system.locks import locked
from trackspread.system.placing import whole

FILE = "cuts.json"
SAME_PLACE_M = 250.0
"""Starts and ends closer together are one place: a block of houses, the reach of a late fix."""
GRAIN_M = 50.0
"""Radii grow in steps of this: a door and a parking place are within one or two."""
MOST_KEPT_PLACES = 100_000  # bounds the file that keeps the cuts


@dataclass(kw_only=True, slots=True)
class KeptCuts:
    """Draws that stay the same for a place; a `Draws` of `geometry.discs`."""

    secret: bytes
    places: list[tuple[float, float]] = field(default_factory=list)

    def __call__(self, lon_deg: float, lat_deg: float) -> Draw:
        """Return the draw of the known place nearest to this one, or of this one from now on."""
        lon_deg, lat_deg = self._known(lon_deg, lat_deg) or self._noted(lon_deg, lat_deg)
        text = f"{lon_deg:.6f} {lat_deg:.6f}".encode()
        seed = int.from_bytes(hmac.digest(self.secret, text, hashlib.sha256), "big")
        return Draw(lon_deg=lon_deg, lat_deg=lat_deg, source=random.Random(seed), grain_m=GRAIN_M)

    def _known(self, lon_deg: float, lat_deg: float) -> tuple[float, float] | None:
        if not self.places:
            return None
        here = geocentric(np.array([lon_deg]), np.array([lat_deg]))
        apart_m = np.linalg.norm(geocentric(*np.array(self.places).T) - here, axis=1)
        nearest = int(apart_m.argmin())
        return self.places[nearest] if apart_m[nearest] <= SAME_PLACE_M else None

    def _noted(self, lon_deg: float, lat_deg: float) -> tuple[float, float]:
        place = (round(lon_deg, 6), round(lat_deg, 6))
        self.places.append(place)
        return place


@contextmanager
def kept_cuts() -> Iterator[KeptCuts | None]:
    """Give the cuts of this machine and keep those that are new.

    While the block runs no other process of this machine changes them.

    Yields
    ------
    KeptCuts or None
        ``None`` where nothing can be kept: no such folder, no right to write, or a damaged file.
    """
    folder = data_folder()
    try:
        if folder is None:
            raise OSError
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        lock = locked(folder / FILE)
        lock.__enter__()
    except OSError:
        yield None
        return
    try:
        cuts = _loaded(folder / FILE)
        before = list(cuts.places) if cuts else []
        if cuts and not before and not _stored(folder / FILE, cuts):
            cuts = None
        yield cuts
        if cuts and cuts.places != before:
            _stored(folder / FILE, cuts)
    finally:
        lock.__exit__(None, None, None)


def _loaded(file: Path) -> KeptCuts | None:
    """Return what a file keeps, a new secret where there is no file, None where it cannot be read."""
    try:
        kept: Any = json.loads(file.read_text("utf-8"))
        places = [(float(lon), float(lat)) for lon, lat in kept["places"]]
        if len(places) > MOST_KEPT_PLACES or not np.isfinite(places).all():
            return None
        return KeptCuts(secret=bytes.fromhex(kept["secret"]), places=places)
    except FileNotFoundError:
        return KeptCuts(secret=secrets.token_bytes(32))
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def _stored(file: Path, cuts: KeptCuts) -> bool:
    text = json.dumps({"secret": cuts.secret.hex(), "places": cuts.places})
    with suppress(OSError), whole(file) as part:
        part.touch(mode=0o600)
        part.write_text(text, "utf-8")
        return True
    return False
