"""The clock of the drop page: times as the rider's clock shows them, in a zone chosen once, UTC beside."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from zoneinfo import ZoneInfo

from trackspread.errors import BadOption, printable
from trackspread.rides.sheet.times import is_time_without_zone

NO_TIME = "no times"


@dataclass(frozen=True, slots=True)
class Clock:
    """Times in one zone of the tz database, ``"UTC"`` until another is chosen.

    Raises
    ------
    BadOption
        This machine knows no such zone.

    Examples
    --------
    >>> clock = Clock("Asia/Tokyo")
    >>> clock.local(0.0), clock.beside(0.0)
    ('1970-01-01 09:00:00', '00:00:00 UTC')
    >>> clock.stated("09:00:30"), clock.stated("09:00:30+02:00")
    ('09:00:30 Asia/Tokyo', '09:00:30+02:00')
    """

    zone: str = "UTC"

    def __post_init__(self) -> None:
        try:
            _zone(self.zone)
        except (LookupError, ValueError, OSError):
            rule = "a time zone is needed, such as UTC or one of the tz database"
            raise BadOption("zone", rule, repr(printable(self.zone))) from None

    def local(self, time_s: float) -> str:
        """Return date and time in the zone, ``"no times"`` where the time is not known.

        Parameters
        ----------
        time_s : float
            Seconds since 1970 UTC.

        Returns
        -------
        str
        """
        moment = _moment(time_s, _zone(self.zone))
        return f"{moment:%Y-%m-%d %H:%M:%S}" if moment else NO_TIME

    def beside(self, time_s: float) -> str:
        """Return the time of day in UTC, with its date where that differs; ``""`` where it says no more.

        Parameters
        ----------
        time_s : float
            Seconds since 1970 UTC.

        Returns
        -------
        str
        """
        moment, local = _moment(time_s, UTC), _moment(time_s, _zone(self.zone))
        if self.zone == "UTC" or not moment or not local:
            return ""
        day = "" if moment.date() == local.date() else f"{moment:%Y-%m-%d} "
        return f"{day}{moment:%H:%M:%S} UTC"

    def stated(self, text: str) -> str:
        """Return what was typed with the zone behind it, where it is a time that names none itself.

        Parameters
        ----------
        text : str

        Returns
        -------
        str
        """
        return f"{text} {self.zone}" if self.zone != "UTC" and is_time_without_zone(text) else text

    def shown(self, text: str) -> str:
        """Return what was typed as it was typed: without the zone that `stated` puts on.

        Parameters
        ----------
        text : str

        Returns
        -------
        str
        """
        return text.removesuffix(f" {self.zone}")


def _zone(name: str) -> tzinfo:
    return UTC if name == "UTC" else ZoneInfo(name)


def _moment(time_s: float, zone: tzinfo) -> datetime | None:
    try:
        return datetime.fromtimestamp(time_s, zone) if math.isfinite(time_s) else None
    except (OverflowError, OSError, ValueError):
        return None
