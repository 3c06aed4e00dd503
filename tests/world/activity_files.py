"""Recordings as FIT (by the library fit-tool, BSD licence) and TCX, with the wait for the first fix."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from fit_tool.fit_file_builder import FitFileBuilder
from fit_tool.profile.messages.device_info_message import DeviceInfoMessage
from fit_tool.profile.messages.event_message import EventMessage
from fit_tool.profile.messages.file_id_message import FileIdMessage
from fit_tool.profile.messages.record_message import RecordMessage
from fit_tool.profile.profile_type import Event, EventType, FileType, Manufacturer

from world.files import utc

if TYPE_CHECKING:
    from world.simulation import Recording

_TCX = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<TrainingCenterDatabase xmlns="urn:example:training" '
    'xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"><Activities><Activity Sport="Biking"><Id>{start}</Id>\n'
    '<Lap StartTime="{start}"><Track>\n{points}</Track></Lap>\n'
    '<Creator xsi:type="Device_t"><Name>{name}</Name><UnitId>{serial}</UnitId></Creator>'
    "</Activity></Activities></TrainingCenterDatabase>\n"
)


def serial_of(recording: Recording) -> int:
    """Return a serial number that is the watch's own."""
    return 1000 + sum(map(ord, recording.receiver.name))


def waiting_s(recording: Recording) -> list[float]:
    """Return the seconds before the first position, from when start was pressed."""
    return np.arange(recording.start_s, recording.time_s[0] - 0.5).tolist()


def claimed_m(recording: Recording) -> list[int]:
    """Return what the watch says of its own accuracy: 2 or 3 m, wherever it is."""
    return [2 + (i // 40) % 2 for i in range(len(recording.time_s))]


def fit_bytes(recording: Recording) -> bytes:
    """Return a FIT activity: device, start of the timer, records with and without a position."""
    builder = FitFileBuilder(auto_define=True)
    serial, start_ms = serial_of(recording), round(recording.start_s) * 1000
    about = FileIdMessage()
    about.type, about.manufacturer, about.product = FileType.ACTIVITY, Manufacturer.DEVELOPMENT.value, 0
    about.serial_number, about.time_created = serial, start_ms
    device = DeviceInfoMessage()
    device.timestamp, device.device_index, device.serial_number = start_ms, 0, serial
    device.product_name = recording.receiver.name
    begun = EventMessage()
    begun.timestamp, begun.event, begun.event_type = start_ms, Event.TIMER, EventType.START
    builder.add_all([about, device, begun])
    for time_s in waiting_s(recording):
        record = RecordMessage()
        record.timestamp, record.heart_rate = round(time_s) * 1000, 90
        builder.add(record)
    points = zip(
        recording.time_s.tolist(), recording.lon_deg.tolist(), recording.lat_deg.tolist(), strict=True
    )
    for (time_s, lon, lat), claim_m in zip(points, claimed_m(recording), strict=True):
        record = RecordMessage()
        record.timestamp, record.position_lat, record.position_long = round(time_s) * 1000, lat, lon
        record.gps_accuracy = claim_m
        builder.add(record)
    return bytes(builder.build_bytes())


def tcx_text(recording: Recording) -> str:
    """Return a TCX activity with the same."""
    lines = [f"<Trackpoint><Time>{utc(time_s)}</Time></Trackpoint>\n" for time_s in waiting_s(recording)]
    points = zip(
        recording.time_s.tolist(), recording.lon_deg.tolist(), recording.lat_deg.tolist(), strict=True
    )
    lines += [
        f"<Trackpoint><Time>{utc(time_s)}</Time><Position><LatitudeDegrees>{lat:.7f}</LatitudeDegrees>"
        f"<LongitudeDegrees>{lon:.7f}</LongitudeDegrees></Position></Trackpoint>\n"
        for time_s, lon, lat in points
    ]
    return _TCX.format(
        start=utc(recording.start_s), points="".join(lines), name=recording.receiver.name,
        serial=serial_of(recording),
    )  # fmt: skip
