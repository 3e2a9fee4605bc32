"""What stands in a package folder: file names, columns and the descriptor.

The form is the open Data Package standard, version 2.0 (datapackage.org): a descriptor
``datapackage.json`` and tables in CSV, each with a Table Schema, its size and its SHA-256. What the
standard has no word for stands under ``chargeassist``; a ``unit`` beside a field is our addition,
which the standard allows.
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from chargeassist.model.channels import Channel, Quality
from chargeassist.model.events import SessionStarted
from chargeassist.model.text import cell
from chargeassist.model.units import Quantity
from chargeassist.session.record.codec import KINDS

FORMAT = 1
DESCRIPTOR = "datapackage.json"
READINGS, EVENTS, CHANNELS = "readings", "events", "channels"

COLUMNS: Mapping[str, tuple[str, ...]] = {
    # Time first: what repeats from row to row stands together, which saves a quarter when zipped.
    READINGS: ("t", "seq", "channel", "value", "quality", "device_time"),
    EVENTS: ("seq", "t", "kind", "body"),
    CHANNELS: (
        *("channel", "role", "quantity", "unit", "reference", "source"),
        *("accuracy_absolute", "accuracy_relative", "serial", "calibrated"),
    ),
}

SI_UNIT = {
    quantity: quantity.si_unit
    for quantity in (
        Quantity.PRESSURE,
        Quantity.TEMPERATURE,
        Quantity.CURRENT,
        Quantity.FREQUENCY,
        Quantity.MASS,
        Quantity.VOLTAGE,
        Quantity.FRACTION,
    )
}
"""Unit of the values of each quantity that a probe can measure."""

PROFILES = "https://datapackage.org/profiles/2.0/"


@dataclass(frozen=True, slots=True, kw_only=True)
class Attachment:
    """A further file of a package.

    Attributes
    ----------
    name : str
        Of the resource: "a-z 0-9 -".
    path : str
        Of the file, in the folder.
    data : bytes
    properties : mapping
        Further properties of the resource, as the standard names them: title, mediatype, schema.
    """

    name: str
    path: str
    data: bytes
    properties: Mapping[str, object] = field(default_factory=dict)


def channel_fields(channel: Channel) -> tuple[str, ...]:
    """Return the row of `channel` in the table of channels; no text of it is a formula."""
    accuracy = channel.accuracy
    return (
        channel.name,
        channel.role.value,
        channel.quantity.value,
        SI_UNIT[channel.quantity],
        channel.reference.value if channel.reference else "",
        cell(channel.source),
        repr(float(accuracy.absolute_si)) if accuracy else "",
        repr(float(accuracy.relative)) if accuracy else "",
        cell(channel.serial),
        cell(channel.calibrated),
    )


def descriptor_text(
    started: SessionStarted,
    files: Mapping[str, tuple[int, str]],
    *,
    rows_sha256: str,
    rows: Mapping[str, int],
    chain_head: str,
    attachments: Sequence[Attachment] = (),
    about_archive: Mapping[str, object] | None = None,
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
    attachments : sequence of Attachment
    about_archive : mapping, optional
        What an archive says of itself, beside what is said of the session.
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
        **({"archive": dict(about_archive)} if about_archive is not None else {}),
    }
    descriptor = {
        "$schema": f"{PROFILES}datapackage.json",
        "name": f"session-{started.session_id.lower()}",
        "title": f"Charging session ({started.mode.value})",
        "description": "Readings and events of one charging session. Values are SI; t counts "
        "seconds from the start; pressures are gauge or absolute as the table of channels says.",
        "created": started.started_utc,
        "chargeassist": about,
        "resources": [
            *(_resource(name, *files[name]) for name in COLUMNS),
            *(_attached(attachment) for attachment in attachments),
        ],
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


def _attached(attachment: Attachment) -> dict[str, object]:
    return {
        "name": attachment.name,
        "path": attachment.path,
        "bytes": len(attachment.data),
        "hash": f"sha256:{hashlib.sha256(attachment.data).hexdigest()}",
        **attachment.properties,
    }


def schema_field(
    name: str, kind: str, title: str, unit: str = "", **constraints: object
) -> dict[str, Any]:
    """Return one field of a Table Schema; `constraints` as the standard names them."""
    made: dict[str, Any] = {"name": name, "type": kind, "title": title}
    if unit:
        made["unit"] = unit
    if constraints:
        made["constraints"] = constraints
    return made


_SEQ = schema_field("seq", "integer", "Place in the order of all rows", required=True, minimum=1)
_T = schema_field("t", "number", "Time since the session started", "s", required=True)
_TO_CHANNELS = {"fields": ["channel"], "reference": {"resource": CHANNELS, "fields": ["channel"]}}

_SCHEMAS: Mapping[str, dict[str, object]] = {
    READINGS: {
        "$schema": f"{PROFILES}tableschema.json",
        "fields": [
            _T,
            _SEQ,
            schema_field("channel", "string", "Channel", required=True),
            schema_field("value", "number", "Value in the SI unit of the channel", required=True),
            schema_field(
                "quality",
                "string",
                "What is known beside the value",
                required=True,
                enum=[q.value for q in Quality],
            ),
            schema_field("device_time", "number", "The device's own time", "s"),
        ],
        "primaryKey": ["seq"],
        "foreignKeys": [_TO_CHANNELS],
        "missingValues": [""],
    },
    EVENTS: {
        "$schema": f"{PROFILES}tableschema.json",
        "fields": [
            _SEQ,
            _T,
            schema_field(
                "kind",
                "string",
                "Kind of event",
                required=True,
                enum=[k for k in KINDS if k != "reading"],
            ),
            schema_field("body", "object", "The other fields of the event", required=True),
        ],
        "primaryKey": ["seq"],
        "missingValues": [""],
    },
    CHANNELS: {
        "$schema": f"{PROFILES}tableschema.json",
        "fields": [
            schema_field("channel", "string", "Name", required=True, pattern="[a-z0-9_]{1,40}"),
            schema_field("role", "string", "Where the probe sits", required=True),
            schema_field("quantity", "string", "What it measures", required=True),
            schema_field(
                "unit", "string", "Unit of the values", required=True, enum=[*SI_UNIT.values()]
            ),
            schema_field(
                "reference",
                "string",
                "What a pressure is counted from",
                enum=["gauge", "absolute"],
            ),
            schema_field("source", "string", "Source that fed it"),
            schema_field("accuracy_absolute", "number", "Limit of error, in the unit", minimum=0),
            schema_field(
                "accuracy_relative",
                "number",
                "Limit of error, share of what the probe shows: of 35 °C, not of 308 K",
                minimum=0,
            ),
            schema_field("serial", "string", "Serial number of the probe"),
            schema_field("calibrated", "string", "Calibration, as typed in the job"),
        ],
        "primaryKey": ["channel"],
        "missingValues": [""],
    },
}
