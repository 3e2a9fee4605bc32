"""A fleet's sessions as Parquet files in Hive partitions, in a local folder or any fsspec address.

::

    ADDRESS/sessions/date=2026-05-04/SESSION.parquet

and ``steps``, ``channels``, ``events``, ``readings`` alike.

Any engine that knows Hive partitions reads it. It is derived: it can be made again from archives.
The file under ``sessions`` is written last, so that a session is there whole or not at all.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from chargeassist.model.errors import ConfigError
from chargeassist.model.events import SessionStarted
from chargeassist.model.text import without_credentials
from chargeassist.qa.extras import extra
from chargeassist.qa.fleet_tables import FleetTables, date_of

if TYPE_CHECKING:
    import pyarrow as pa

TABLES = ("readings", "events", "channels", "steps", "sessions")
"""In the order they are written."""

_TEXT = frozenset(
    (
        *("session_id", "sealed_as", "mode", "software", "table_hash", "job", "refrigerant"),
        *("make", "model", "company", "certificate", "method", "outcome", "decision"),
        *("verdicts_sha256", "measured_by", "channel", "role", "quantity", "unit", "serial"),
        *("calibrated", "kind", "body", "counted_from"),
    )
)
_WHOLE = frozenset({"readings", "steps", "verdicts", "number", "seq"})
_ROW_GROUP = 1_000_000


@dataclass(frozen=True, slots=True)
class Held:
    """What a dataset holds of a session.

    Attributes
    ----------
    sealed_as : str
        Seal of the archive it was added from; "" where that was no archive.
    ended : bool
        Whether the session had its end when it was added.
    """

    sealed_as: str
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
            row = pq.read_table(file, columns=["sealed_as", "outcome"])
        return Held(
            sealed_as=str(row["sealed_as"][0].as_py()), ended=bool(row["outcome"][0].as_py())
        )

    def write(self, tables: FleetTables) -> None:
        """Write the tables of a session; what was there of it is replaced.

        Raises
        ------
        OSError
        """
        import pyarrow.parquet as pq

        for name in TABLES:
            path = self.path(name, tables.date, tables.session_id)
            self.files.makedirs(path.rpartition("/")[0], exist_ok=True)
            partial = f"{path}.partial"
            with self.files.open(partial, "wb") as file:
                pq.write_table(
                    _table(tables.tables[name]),
                    file,
                    compression="zstd",
                    row_group_size=_ROW_GROUP,
                    write_statistics=True,
                )
            self.files.mv(partial, path)


def _table(columns: Any) -> "pa.Table":  # noqa: ANN401 (columns of any kind)
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
