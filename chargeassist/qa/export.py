"""Write the readings of a record as a table for other programs: CSV or Parquet.

CSV has one row per time and one column per channel, in the probe's own unit, which stands in the
header; a number has the fewest decimals that give the recorded one back. What a broker only
remembered (a retained message) is left out. Parquet has one row per reading in SI units; `unit`
says which, and `counted_from` of a pressure whether it is gauge or absolute.
"""

import csv
import datetime as dt
from collections.abc import Iterable, Iterator
from pathlib import Path

from chargeassist.model.channels import RECORDED_DECIMALS, Channel, Quality
from chargeassist.model.errors import ConfigError, RecordDamagedError, RecordError
from chargeassist.model.events import ChannelDeclared, Event, Reading
from chargeassist.model.text import cell, plain
from chargeassist.model.units import Unit, find_unit
from chargeassist.qa.extras import extra
from chargeassist.qa.rescore import started_at
from chargeassist.session.record.package_layout import SI_UNIT
from chargeassist.session.record.reader import RecordReader
from chargeassist.session.whole_file import give_new_name, partial_of

_BATCH = 65_536


def export(record: RecordReader, path: Path) -> int:
    """Write the readings of `record` to the new file `path` and return how many there were.

    Parameters
    ----------
    record : RecordReader
    path : Path
        Ends in ".csv" or ".parquet".

    Raises
    ------
    ConfigError
        If the file exists or its ending is another, or a library is not installed.
    RecordError
        If the record cannot be read or the file not be written.
    """
    if path.exists():
        raise ConfigError(f"{path}: already exists; choose another name")
    if path.suffix not in (".csv", ".parquet"):
        raise ConfigError(f"{path}: expected a name that ends in .csv or .parquet")
    try:
        with partial_of(path) as partial:
            count = (_csv if path.suffix == ".csv" else _parquet)(record, partial)
            give_new_name(partial, path)
    except OSError as exc:
        raise RecordError(
            f"{path}: cannot be written ({exc.strerror or exc}); choose a place with room that you "
            "may write to"
        ) from exc
    return count


def _csv(record: RecordReader, path: Path) -> int:
    channels = record.channels
    units = {c.name: find_unit(c.unit, c.quantity) for c in channels}
    begun = started_at(record.started)
    count = 0
    with path.open("x", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["time_utc", "elapsed (s)", *(cell(_header(c)) for c in channels)])
        for t, values in _by_time(record.events()):
            strange = values.keys() - units.keys()
            if strange:
                raise _undeclared(record, min(strange))
            row = [_cell(values.get(c.name), units[c.name]) for c in channels]
            when = "" if begun is None else _utc(begun, t)
            writer.writerow([when, repr(t), *row])
            count += len(values)
    return count


def _by_time(events: Iterable[Event]) -> Iterator[tuple[float, dict[str, float]]]:
    """Yield (time, values by channel); a second value of a channel at one time begins a new row."""
    at, values = 0.0, dict[str, float]()
    for event in events:
        if not isinstance(event, Reading) or event.quality is Quality.RETAINED:
            continue
        if values and (event.t != at or event.channel in values):
            yield at, values
            values = {}
        at = event.t
        values[event.channel] = event.value
    if values:
        yield at, values


def _utc(begun: dt.datetime, t: float) -> str:
    """Return the time `t` [s] after `begun`; "" beyond the end of the calendar."""
    try:
        return (begun + dt.timedelta(seconds=t)).isoformat(timespec="milliseconds")
    except OverflowError:
        return ""


def _undeclared(record: RecordReader, name: str) -> RecordDamagedError:
    return RecordDamagedError(
        f"{record.path}: a reading of {plain(name, 60)!r}, which was not declared before it; "
        "verify says what else is wrong"
    )


def _header(channel: Channel) -> str:
    unit = channel.unit
    told = find_unit(unit, channel.quantity).reference
    if channel.counted_from is not None and told is None:
        unit = f"{unit}({channel.counted_from.value[0]})"
    return f"{channel.name} ({unit})"


def _cell(value_si: float | None, unit: Unit) -> str:
    if value_si is None:
        return ""
    return repr(fewest_decimals(value_si, unit))


def fewest_decimals(value_si: float, unit: Unit) -> float:
    """Return `value_si` in `unit` with the fewest decimals that are recorded as this very value.

    A scale that says 320 oz is recorded as 9.07185 kg, which is 320.00009 oz: what the last digit
    of the record adds is left off again.
    """
    exact = unit.from_si(value_si)
    least_si = 0.5 * 10.0 ** -RECORDED_DECIMALS[unit.quantity]
    for decimals in range(12):
        rounded = round(exact, decimals) + 0.0
        if abs(unit.to_si(rounded) - value_si) <= least_si:
            return rounded
    return exact


def _parquet(record: RecordReader, path: Path) -> int:
    with extra("fleet", "writing Parquet"):
        import pyarrow as pa
        import pyarrow.parquet as pq
    schema = pa.schema(
        [
            ("t", pa.float64()),
            ("channel", pa.dictionary(pa.int32(), pa.string())),
            ("value", pa.float64()),
            ("unit", pa.dictionary(pa.int32(), pa.string())),
            ("counted_from", pa.dictionary(pa.int32(), pa.string())),
            ("quality", pa.dictionary(pa.int32(), pa.string())),
        ],
        metadata={
            "session_id": record.started.session_id,
            "started_utc": record.started.started_utc,
            "mode": record.started.mode.value,
        },
    )
    count = 0
    with pq.ParquetWriter(path, schema, compression="zstd") as writer:
        for batch in _batches(record):
            count += len(batch["t"])
            writer.write_table(pa.table(batch, schema=schema))
    return count


def _batches(record: RecordReader) -> Iterator[dict[str, list[object]]]:
    units: dict[str, tuple[str, str | None]] = {}
    names = ("t", "channel", "value", "unit", "counted_from", "quality")
    batch: dict[str, list[object]] = {name: [] for name in names}
    for event in record.events():
        if isinstance(event, ChannelDeclared):
            channel = event.channel
            reference = channel.counted_from
            said = None if reference is None else reference.value
            units[channel.name] = SI_UNIT[channel.quantity], said
        if not isinstance(event, Reading):
            continue
        if event.channel not in units:
            raise _undeclared(record, event.channel)
        row = (event.t, event.channel, event.value, *units[event.channel], event.quality.value)
        for name, value in zip(names, row, strict=True):
            batch[name].append(value)
        if len(batch["t"]) == _BATCH:
            yield batch
            batch = {name: [] for name in names}
    if batch["t"]:
        yield batch
