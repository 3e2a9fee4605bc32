"""The files an archive holds beside the tables of every package: job, limits, commits."""

import csv
import io
import json
from collections.abc import Iterable, Sequence

from chargeassist.model.job import Job
from chargeassist.model.text import cell
from chargeassist.session.record.package_layout import PROFILES, Attachment, schema_field

JOB = "job.json"
LIMITS = "limits.csv"
COMMITS = "commits.csv"

LIMIT_COLUMNS = (
    *("limit", "value_si", "kind", "as_written", "strict", "source", "edition", "authority"),
    *("address", "from_memory", "note"),
)

LIMIT_WORDS = frozenset({"kind", "authority"})
"""Columns in words of the version that made the archive; the others are the record's own."""


def job_file(job: str) -> Attachment:
    """Return the job as used, from its canonical JSON."""
    text = json.dumps(json.loads(job), indent=2, ensure_ascii=False, sort_keys=True) + "\n"
    return Attachment(
        name="job",
        path=JOB,
        data=text.encode(),
        properties={
            "title": "The job as used: target, charge, limits, probes, each with its source",
            "type": "json",
            "format": "json",
            "mediatype": "application/json",
            "encoding": "utf-8",
        },
    )


def limit_rows(job: Job) -> list[tuple[str, ...]]:
    """Return the cells of `LIMIT_COLUMNS` for each limit of `job`."""
    return [
        (
            limit.key.value,
            repr(limit.value_si),
            limit.key.kind.value,
            limit.as_written,
            _word(is_so=limit.strict),
            limit.source,
            limit.edition,
            limit.authority.words,
            limit.address,
            _word(is_so=limit.from_memory),
            limit.note,
        )
        for limit in job.limits
    ]


def limits_file(job: Job) -> Attachment:
    """Return the limits the session was judged by, those of its profiles and of the job itself."""
    kinds = {"value_si": "number", "strict": "boolean", "from_memory": "boolean"}
    titles = {
        "limit": "What is limited",
        "value_si": "Value in SI units",
        "kind": "What it is a number of",
        "as_written": "As the source has it",
        "strict": "Whether the limit itself does not pass",
    }
    fields = [
        schema_field(name, kinds.get(name, "string"), titles.get(name, name.replace("_", " ")))
        for name in LIMIT_COLUMNS
    ]
    profile = job.profile or "none"
    return Attachment(
        name="limits",
        path=LIMITS,
        data=_csv(LIMIT_COLUMNS, limit_rows(job)),
        properties=_table(f"Limits as used; profile: {profile}", fields, ["limit"]),
    )


def commits_file(ends: Sequence[int]) -> Attachment:
    """Return the last row of each commit of the session file.

    With these the chain of hashes is computed again from the tables; its head stands in the
    descriptor. The hashes between would cost more than the readings and say nothing more.
    """
    fields = [
        schema_field("last_seq", "integer", "Last row of each commit", required=True, minimum=1)
    ]
    return Attachment(
        name="commits",
        path=COMMITS,
        data=_csv(("last_seq",), ((str(end),) for end in ends)),
        properties=_table("Commits of the session file, in order", fields, ["last_seq"]),
    )


def _word(*, is_so: bool) -> str:
    return "true" if is_so else "false"


def _csv(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([cell(value) for value in row] for row in rows)
    return text.getvalue().encode()


def _table(title: str, fields: Sequence[object], key: Sequence[str]) -> dict[str, object]:
    return {
        "title": title,
        "type": "table",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": {
            "$schema": f"{PROFILES}tableschema.json",
            "fields": list(fields),
            "primaryKey": list(key),
            "missingValues": [""],
        },
    }
