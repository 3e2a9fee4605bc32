"""Questions to a fleet's dataset, answered in process by DuckDB; reading only."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.text import plain, without_credentials
from chargeassist.qa.extras import extra
from chargeassist.qa.fleet_store import TABLES, FleetStore

if TYPE_CHECKING:
    import duckdb

_CLOSED: Final = (
    "TimeZone = 'UTC'",  # as everywhere here; else an answer would depend on the machine that asks
    "python_enable_replacements = false",
    "autoinstall_known_extensions = false",
    "autoload_known_extensions = false",
    "enable_external_access = false",
    "lock_configuration = true",
)
"""What DuckDB is told before a question of somebody's is asked; the last one shuts the door."""


@dataclass(frozen=True, slots=True)
class Question:
    """A question with a name.

    Attributes
    ----------
    title, sql : str
    """

    title: str
    sql: str


QUESTIONS: Final = {
    "settle-time-by-model": Question(
        "How long a charge step takes to settle [s], by model",
        """
        SELECT s.mode, s.make, s.model, count(p.settle_s) AS steps,
               round(median(p.settle_s), 1) AS median_s,
               round(quantile_cont(p.settle_s, 0.9), 1) AS p90_s,
               count(*) - count(p.settle_s) AS never_settled
        FROM steps p JOIN sessions s USING (session_id)
        GROUP BY ALL ORDER BY s.mode, s.make, s.model
        """,
    ),
    "gain-by-model": Question(
        "Change of the judged value per kilogram [K/kg], by model",
        """
        SELECT s.mode, s.make, s.model, s.method, count(p.gain_k_per_kg) AS steps,
               round(median(p.gain_k_per_kg), 3) AS median_k_per_kg,
               round(quantile_cont(p.gain_k_per_kg, 0.1), 3) AS p10,
               round(quantile_cont(p.gain_k_per_kg, 0.9), 3) AS p90
        FROM steps p JOIN sessions s USING (session_id)
        WHERE p.gain_k_per_kg IS NOT NULL
        GROUP BY ALL ORDER BY s.mode, s.make, s.model, s.method
        """,
    ),
    "overshoot-by-crew": Question(
        "How often and how far the settled value ended over the band [K], by crew",
        """
        SELECT mode, company, certificate, count(*) AS sessions,
               count(*) FILTER (WHERE over_k > 0) AS over,
               round(100.0 * count(*) FILTER (WHERE over_k > 0) / count(*), 1) AS over_percent,
               round(max(over_k), 2) AS furthest_k
        FROM sessions WHERE over_k IS NOT NULL AND outcome = 'complete'
        GROUP BY ALL ORDER BY mode, over_percent DESC, company, certificate
        """,
    ),
    "probe-drift": Question(
        "Probes of one kind that travel together: how their difference at the end of a session "
        "moves [SI unit per 30 days]",
        """
        WITH pairs AS (
            SELECT s.mode, a.serial AS one, b.serial AS other, a.role AS one_role,
                   b.role AS other_role, a.quantity, a.unit, epoch(s.started) / 2592000.0 AS month,
                   a.at_end - b.at_end AS apart
            FROM channels a JOIN channels b USING (session_id, quantity)
            JOIN sessions s USING (session_id)
            WHERE a.role < b.role AND a.serial <> '' AND b.serial <> ''
              AND a.counted_from IS NOT DISTINCT FROM b.counted_from
        )
        SELECT mode, one, one_role, other, other_role, quantity, unit, count(apart) AS sessions,
               round(avg(apart), 4) AS apart, round(stddev_samp(apart), 4) AS spread,
               round(regr_slope(apart, month), 4) AS drift,
               -- of what never moved SQL says 1, as if a line explained it
               CASE WHEN var_samp(apart) > 0 THEN round(regr_r2(apart, month), 3) END AS r2
        FROM pairs GROUP BY ALL HAVING count(apart) >= 3
        ORDER BY mode, r2 DESC NULLS LAST, one, other, one_role, other_role
        """,
    ),
    "readings-by-channel": Question(
        "How many readings there are of each channel, and between which values [SI]",
        """
        SELECT s.mode, channel, count(*) AS readings, min(value) AS lowest, max(value) AS highest,
               round(avg(value), 3) AS mean
        FROM readings JOIN (SELECT session_id, mode FROM sessions) s USING (session_id)
        GROUP BY ALL ORDER BY s.mode, channel
        """,
    ),
}
"""Every question by its name; what was simulated and work in the field are never mixed."""


@dataclass(frozen=True, slots=True)
class Answer:
    """Columns and rows."""

    columns: tuple[str, ...]
    rows: Sequence[tuple[Any, ...]]


class FleetReader:
    """The dataset at an address, opened for questions.

    Parameters
    ----------
    address : str

    Raises
    ------
    ConfigError
        If there is none, or a library is not installed.
    """

    def __init__(self, address: str) -> None:
        with extra("fleet", "asking a fleet"):
            import duckdb
        store = FleetStore(address)
        if not store.files.exists(f"{store.root}/sessions"):
            raise ConfigError(
                f"{without_credentials(address)}: expected a fleet's dataset (see: fleet add), "
                "found none"
            )
        self._db = duckdb.connect(":memory:")
        try:
            self._open(store)
        except duckdb.Error as exc:
            self.close()
            raise ConfigError(
                f"{without_credentials(address)}: expected a fleet's dataset (see: fleet add), "
                f"got something else: {plain(str(exc), 300)}"
            ) from exc

    def _open(self, store: FleetStore) -> None:
        root = store.root
        if not store.local:
            self._db.register_filesystem(store.files)
            protocol = store.files.protocol
            root = f"{protocol if isinstance(protocol, str) else protocol[0]}://{root.lstrip('/')}"
        for table in TABLES:
            place = f"{_literal(root)}/{table}/*/*.parquet".replace("'", "''")
            self._db.execute(
                f"CREATE VIEW {table} AS SELECT * FROM "
                f"read_parquet('{place}', hive_partitioning = true, union_by_name = true)"
            )
        # The dataset and nothing else: no other file of this machine, no other host, no extension,
        # no variable of this program. DuckDB compares beginnings; a file system may spell its root
        # with one slash more.
        own = (root.rstrip("/"), _literal(root).rstrip("/"))
        roots = {*own, *(place.replace("://", ":///") for place in own)}
        quoted = ", ".join("'{}/'".format(place.replace("'", "''")) for place in sorted(roots))
        self._db.execute(f"SET allowed_directories = [{quoted}]")
        for setting in _CLOSED:
            self._db.execute(f"SET {setting}")

    def ask(self, name: str) -> Answer:
        """Answer the question `name`.

        Raises
        ------
        ConfigError
            If there is no such question.
        """
        question = QUESTIONS.get(name)
        if question is None:
            raise ConfigError(
                f"expected a question ({', '.join(QUESTIONS)}), got {plain(name, 40)!r}"
            )
        return self.select(question.sql)

    def select(self, sql: str) -> Answer:
        """Answer one SELECT over ``sessions``, ``steps``, ``channels``, ``events``, ``readings``.

        Raises
        ------
        ConfigError
            If it is anything else, or cannot be answered.
        """
        import duckdb

        try:
            statements = self._db.extract_statements(sql)
            if len(statements) != 1 or not _only_reads(statements[0]):
                raise ConfigError("expected one SELECT: this command only reads")
            cursor = self._db.execute(statements[0])
            columns = tuple(column[0] for column in cursor.description or ())
            return Answer(columns, cursor.fetchall())
        except duckdb.Error as exc:
            raise ConfigError(f"the question cannot be answered: {_shown(exc)}") from exc

    def close(self) -> None:
        """Let go of it."""
        self._db.close()


def _literal(path: str) -> str:
    """Return the pattern that stands for `path` alone, whatever stands in the name of a folder."""
    return re.sub(r"[*?\[]", r"[\g<0>]", path)


def _only_reads(statement: "duckdb.Statement") -> bool:
    # No EXPLAIN: EXPLAIN ANALYZE carries out what it explains, be it a COPY into the dataset.
    return str(statement.type).rpartition(".")[2] == "SELECT"


def _shown(error: Exception) -> str:
    """Return DuckDB's message line by line: it marks the place in the question."""
    return "\n".join(plain(line, 300) for line in str(error).splitlines()[:6])
