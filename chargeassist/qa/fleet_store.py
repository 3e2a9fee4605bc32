"""A fleet's sessions as Parquet files in Hive partitions, in a local folder or any fsspec address.

::

    ADDRESS/sessions/date=2026-05-04/SESSION.parquet

and ``steps``, ``channels``, ``events``, ``readings`` alike.

Any engine that knows Hive partitions reads it. It is derived: it can be made again from archives.
The file under ``sessions`` is written last, so that a session is there whole or not at all. Two
programs may add at the same time: in a folder a lock lets one of them write a session while the
other waits. An address on the network has no locks; there each file is whole all the same, because
each writer has names of its own until a file is finished, and the last one to finish counts.
"""

import contextlib
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from chargeassist.model.errors import ConfigError
from chargeassist.model.events import SessionStarted
from chargeassist.model.text import without_credentials
from chargeassist.qa.extras import extra
from chargeassist.qa.fleet_tables import Columns, FleetTables, date_of
from chargeassist.session.record.filelock import FileLock, HeldError

if TYPE_CHECKING:
    import pyarrow as pa

TABLES = ("readings", "events", "channels", "steps", "sessions")
"""In the order they are written."""

_TEXT = frozenset(
    (
        *("session_id", "sealed_as", "supersedes", "mode", "software", "table_hash", "job"),
        *("refrigerant", "make", "model", "company", "certificate", "method", "outcome"),
        *("decision", "verdicts_sha256", "measured_by", "channel", "role", "quantity", "unit"),
        *("serial", "calibrated", "kind", "body", "counted_from"),
    )
)
_WHOLE = frozenset({"readings", "steps", "verdicts", "number", "seq"})
_ROW_GROUP = 1_000_000
LOCAL = ("file", "local")
"""What fsspec calls the folders of this machine."""

WAITS_S = 120.0
"""So long a session is waited for that another program is writing [s]."""


@dataclass(frozen=True, slots=True)
class Held:
    """What a dataset holds of a session.

    Attributes
    ----------
    sealed_as : str
        Seal of the archive it was added from; "" where that was no archive.
    supersedes : tuple of str
        Seals of the archives that one takes the place of, the newest first.
    ended : bool
        Whether the session had its end when it was added.
    """

    sealed_as: str
    supersedes: tuple[str, ...]
    ended: bool


class FleetStore:
    """The dataset at an address.

    Parameters
    ----------
    address : str
        A folder, or an fsspec address such as "s3://bucket/fleet".

    Raises
    ------
    ConfigError
        If the address or a library cannot be used.

    Attributes
    ----------
    local : bool
        Whether it is a folder of this machine.
    """

    def __init__(self, address: str) -> None:
        with extra("fleet", "a fleet's dataset"):
            import fsspec
            import pyarrow as pa  # noqa: F401
        try:
            self.files, self.root = fsspec.core.url_to_fs(address)
        except (ValueError, ImportError, OSError) as exc:
            raise ConfigError(
                f"{without_credentials(address)}: expected a folder or an fsspec address such as "
                f"s3://bucket/fleet ({without_credentials(str(exc))})"
            ) from exc
        self.address = address
        protocol = self.files.protocol
        self.local = not {*LOCAL}.isdisjoint((protocol,) if isinstance(protocol, str) else protocol)

    def expect_place(self) -> None:
        """Refuse a place on this machine that is neither new nor empty nor a dataset.

        Raises
        ------
        ConfigError
            Five folders of tables among somebody's archives are not easily taken out again.
        """
        here = Path(self.root)
        if not self.local or not here.exists():
            return
        if not here.is_dir():
            raise ConfigError(
                f"{self.address}: expected a folder for the dataset, a file stands there; "
                "choose another name"
            )
        if any(here.iterdir()) and not any((here / table).is_dir() for table in TABLES):
            raise ConfigError(
                f"{self.address}: expected a new or an empty folder, or a fleet's dataset (with "
                f"{TABLES[-1]}/ in it); this one holds something else: choose another name"
            )

    def path(self, table: str, date: str, name: str) -> str:
        """Return where a file of `table` stands."""
        return f"{self.root}/{table}/date={date}/{name}.parquet"

    def held(self, started: SessionStarted) -> "Held | None":
        """Return what is there of a session; None where nothing is."""
        import pyarrow.parquet as pq

        path = self.path("sessions", date_of(started), started.session_id)
        if not self.files.exists(path):
            return None
        with self.files.open(path, "rb") as file:
            # One row needs no threads, which pyarrow may fail to end with the program. A dataset of
            # an earlier version has no column of what is superseded.
            row = pq.ParquetFile(file).read(use_threads=False).to_pylist()[0]
        return Held(
            sealed_as=str(row["sealed_as"]),
            supersedes=tuple(str(row.get("supersedes") or "").split()),
            ended=bool(row["outcome"]),
        )

    @contextmanager
    def alone(self, started: SessionStarted) -> Iterator[None]:
        """Be the one that looks at a session and writes it; another program is waited for.

        Without effect at an address on the network.

        Raises
        ------
        HeldError
            If another program holds it for longer than `WAITS_S`.
        RecordError
            If the folder cannot be written to, or has no locks.
        """
        if not self.local:
            yield
            return
        sessions = self.path("sessions", date_of(started), started.session_id)
        folder = Path(sessions).parent
        folder.mkdir(parents=True, exist_ok=True)
        lock = _held(folder / f".{started.session_id}", time.monotonic() + WAITS_S)
        try:
            yield
        finally:
            lock.release()

    def write(self, tables: FleetTables) -> None:
        """Write the tables of a session; what was there of it is replaced.

        All of them are written before one gets its name. While names are given the session is not
        there: readings of one archive beside the end of another would pass for a session.

        Raises
        ------
        OSError
            What was there before is as it was, unless names were being given.
        """
        # In a folder `alone` is held, and what an ended program has left is written over.
        writer = "" if self.local else f".{uuid.uuid4().hex}"
        finished: dict[str, str] = {}
        try:
            for name in TABLES:
                path = self.path(name, tables.date, tables.session_id)
                folder = path.rpartition("/")[0]
                self.files.makedirs(folder, exist_ok=True)
                # Engines leave out what begins with a dot.
                finished[path] = f"{folder}/.{tables.session_id}{writer}.partial"
                self._write(tables.tables[name], finished[path])
            *_, says_it_is_there = finished
            if self.files.exists(says_it_is_there):
                self.files.rm(says_it_is_there)
            for path in [*finished]:
                self.files.mv(finished[path], path)
                del finished[path]
        except BaseException:
            for partial in finished.values():
                with contextlib.suppress(OSError):
                    self.files.rm(partial)
            raise

    def _write(self, columns: Columns, path: str) -> None:
        import pyarrow.parquet as pq

        with self.files.open(path, "wb") as file:
            pq.write_table(
                _table(columns),
                file,
                compression="zstd",
                row_group_size=_ROW_GROUP,
                write_statistics=True,
            )


def _held(path: Path, until_s: float) -> FileLock:
    """Return the lock of `path` once it is free, or raise that it is not [s, monotonic]."""
    while True:
        try:
            return FileLock(
                path, "this session of the dataset", "add it again when that one is done"
            )
        except HeldError:
            if time.monotonic() > until_s:
                raise
        time.sleep(0.05)


def _table(columns: Columns) -> "pa.Table":
    import pyarrow as pa

    arrays = {}
    for name, values in columns.items():
        if name in _TEXT:
            array = pa.array(values, pa.string())
            arrays[name] = array.dictionary_encode() if len(values) > 1 else array
        elif name == "started":
            arrays[name] = pa.array(values, pa.timestamp("ms", tz="UTC"))
        else:
            arrays[name] = pa.array(values, pa.int64() if name in _WHOLE else pa.float64())
    return pa.table(arrays)
