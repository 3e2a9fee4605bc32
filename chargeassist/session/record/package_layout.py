"""What stands in a package folder: file names, columns and the descriptor.

The form is the open Data Package standard, version 2.0 (datapackage.org): a descriptor
``datapackage.json`` and tables in CSV, each with a Table Schema, its size and its SHA-256. What the
standard has no word for stands under ``chargeassist``; a ``unit`` beside a field is our addition,
which the standard allows.
"""

import json
from collections.abc import Mapping
from typing import Any

from chargeassist.model.channels import Channel, Quality
from chargeassist.model.events import SessionStarted
from chargeassist.model.units import Quantity
from chargeassist.session.record.codec import KINDS

FORMAT = 1
DESCRIPTOR = "datapackage.json"
READINGS, EVENTS, CHANNELS = "readings", "events", "channels"

COLUMNS: Mapping[str, tuple[str, ...]] = {
    READINGS: ("seq", "t", "channel", "value", "quality", "device_time"),
    EVENTS: ("seq", "t", "kind", "body"),
    CHANNELS: (
        *("channel", "role", "quantity", "unit", "reference", "source"),
        *("accuracy_absolute", "accuracy_relative", "serial", "calibrated"),
    ),
}

_SI_UNIT = {
    Quantity.PRESSURE: "Pa",
    Quantity.TEMPERATURE: "K",
    Quantity.CURRENT: "A",
    Quantity.FREQUENCY: "Hz",
    Quantity.MASS: "kg",
    Quantity.VOLTAGE: "V",
    Quantity.FRACTION: "1",
}

_PROFILES = "https://datapackage.org/profiles/2.0/"


def channel_fields(channel: Channel) -> tuple[str, ...]:
    """Return the row of `channel` in the table of channels."""
    accuracy = channel.accuracy
    return (
        channel.name,
        channel.role.value,
        channel.quantity.value,
        _SI_UNIT[channel.quantity],
        channel.reference.value if channel.reference else "",
        channel.source,
        repr(float(accuracy.absolute_si)) if accuracy else "",
        repr(float(accuracy.relative)) if accuracy else "",
        channel.serial,
        channel.calibrated,
    )


def descriptor_text(
    started: SessionStarted,
    files: Mapping[str, tuple[int, str]],
    *,
    rows_sha256: str,
    rows: Mapping[str, int],
    chain_head: str,
) -> str:
    """Return ``datapackage.json`` as text.

    Parameters
    ----------
    started : SessionStarted
    files : Mapping[str, tuple[int, str]]
        Size [bytes] and SHA-256 [hexadecimal] of each table.
    rows_sha256 : str
        Hash over all rows, the same as the session file's.
    rows : Mapping[str, int]
        Rows of each table.
    chain_head : str
        Of the session file it was made from; "" when there was none.
    """
    about: dict[str, object] = {
        "format": FORMAT,
        "session_id": started.session_id,
        "mode": started.mode.value,
        "software": started.software,
        "table_hash": started.table_hash,
        "readings": rows[READINGS],
        "events": rows[EVENTS],
        "rows_sha256": rows_sha256,
        "chain_head": chain_head,
        "job": json.loads(started.job),
    }
    descriptor = {
        "$schema": f"{_PROFILES}datapackage.json",
        "name": f"session-{started.session_id.lower()}",
        "title": f"Charging session ({started.mode.value})",
        "description": "Readings and events of one charging session. Values are SI; t counts "
        "seconds from the start; pressures are gauge or absolute as the table of channels says.",
        "created": started.started_utc,
        "chargeassist": about,
        "resources": [_resource(name, *files[name]) for name in COLUMNS],
    }
    return json.dumps(descriptor, indent=2, ensure_ascii=False) + "\n"


def _resource(name: str, size: int, sha256: str) -> dict[str, object]:
    return {
        "name": name,
        "path": f"{name}.csv",
        "type": "table",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": size,
        "hash": f"sha256:{sha256}",
        "schema": _SCHEMAS[name],
    }


def _field(
    name: str, kind: str, title: str, unit: str = "", **constraints: object
) -> dict[str, Any]:
    field: dict[str, Any] = {"name": name, "type": kind, "title": title}
    if unit:
        field["unit"] = unit
    if constraints:
        field["constraints"] = constraints
    return field


_SEQ = _field("seq", "integer", "Place in the order of all rows", required=True, minimum=1)
_T = _field("t", "number", "Time since the session started", "s", required=True)
_TO_CHANNELS = {"fields": ["channel"], "reference": {"resource": CHANNELS, "fields": ["channel"]}}

_SCHEMAS: Mapping[str, dict[str, object]] = {
    READINGS: {
        "$schema": f"{_PROFILES}tableschema.json",
        "fields": [
            _SEQ,
            _T,
            _field("channel", "string", "Channel", required=True),
            _field("value", "number", "Value in the SI unit of the channel", required=True),
            _field(
                "quality",
                "string",
                "What is known beside the value",
                required=True,
                enum=[q.value for q in Quality],
            ),
            _field("device_time", "number", "The device's own time", "s"),
        ],
        "primaryKey": ["seq"],
        "foreignKeys": [_TO_CHANNELS],
        "missingValues": [""],
    },
    EVENTS: {
        "$schema": f"{_PROFILES}tableschema.json",
        "fields": [
            _SEQ,
            _T,
            _field(
                "kind",
                "string",
                "Kind of event",
                required=True,
                enum=[k for k in KINDS if k != "reading"],
            ),
            _field("body", "object", "The other fields of the event", required=True),
        ],
        "primaryKey": ["seq"],
        "missingValues": [""],
    },
    CHANNELS: {
        "$schema": f"{_PROFILES}tableschema.json",
        "fields": [
            _field("channel", "string", "Name", required=True, pattern="[a-z0-9_]{1,40}"),
            _field("role", "string", "Where the probe sits", required=True),
            _field("quantity", "string", "What it measures", required=True),
            _field(
                "unit", "string", "Unit of the values", required=True, enum=[*_SI_UNIT.values()]
            ),
            _field(
                "reference",
                "string",
                "What a pressure is counted from",
                enum=["gauge", "absolute"],
            ),
            _field("source", "string", "Source that fed it"),
            _field("accuracy_absolute", "number", "Limit of error, in the unit", minimum=0),
            _field("accuracy_relative", "number", "Limit of error, share of the value", minimum=0),
            _field("serial", "string", "Serial number of the probe"),
            _field("calibrated", "string", "Calibration, as typed in the job"),
        ],
        "primaryKey": ["channel"],
        "missingValues": [""],
    },
}
