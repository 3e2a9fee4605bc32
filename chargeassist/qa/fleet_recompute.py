"""Score many sessions again with today's software: on local cores, or on a Dask cluster.

Each session is one task, a pure function of its file. What is done is written at once, a line each,
so that a stop costs only what was under way; at the end the lines are sorted, and the file is the
same whoever computed it.
"""

import hashlib
import json
from collections.abc import Generator, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, TextIO

from chargeassist.model.build import software
from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.text import storable
from chargeassist.physics.table import table_hash
from chargeassist.qa.extras import extra
from chargeassist.qa.many import each, why_not
from chargeassist.qa.recompute import compare
from chargeassist.qa.rescore import rescore, settled_facts
from chargeassist.session.record.filelock import FileLock
from chargeassist.session.record.package import PackageReader, open_record
from chargeassist.session.record.package_layout import DESCRIPTOR
from chargeassist.session.whole_file import expect_folder

WAITING_PER_CORE = 4
"""Tasks that wait at a worker beside the one it does; more would only fill the scheduler."""

CONNECT_WITHIN = "20s"
"""As Dask writes durations."""

Line = dict[str, Any]


def score(path: Path, name: str = "") -> Line:
    """Return what today's software makes of the record at `path`; never raises for its content.

    Parameters
    ----------
    path : Path
    name : str
        What the line calls it; its path otherwise.
    """
    line: Line = {"record": name or str(path)}
    try:
        line["sha256"] = content_sha256(path)
        with open_record(path) as record:
            session = rescore(record)
        found = compare(session)
    except Exception as exc:  # noqa: BLE001  told in the line; see why_not
        return {**line, "error": why_not(exc)}
    facts = settled_facts(session)
    settled = None if facts is None else facts.settled
    return {
        **line,
        "session_id": session.started.session_id,
        "software": software(),
        "table_hash": table_hash(),
        "readings": session.readings,
        "verdicts": len(session.made),
        "verdicts_sha256": found.verdicts_sha256,
        "settled_k": None if settled is None else settled.value_k,
        "expanded_k": None if settled is None else settled.expanded_k,
        "differ": len(found.differences),
        "differences": [difference.text for difference in found.differences[:20]],
        "causes": list(found.causes),
    }


def content_sha256(path: Path) -> str:
    """Return a hash over the file, or over the files of a package folder.

    Not over its descriptor alone, which says what their hashes should be: a table can have changed
    under it. A session that runs, or was interrupted, has its newest rows in SQLite's log beside
    the file, which then counts too.
    """
    if not path.is_dir():
        log = Path(f"{path.resolve()}-wal")
        alone = _file_sha256(path)
        if not log.is_file() or not log.stat().st_size:
            return alone
        return hashlib.sha256(f"{alone}\n{_file_sha256(log)}\n".encode()).hexdigest()
    with open_record(path) as record:
        tables = record.files if isinstance(record, PackageReader) else {}
        names = [f"{name}\t{_file_sha256(table)}\n" for name, table in sorted(tables.items())]
    whole = "".join([f"{DESCRIPTOR}\t{_file_sha256(path / DESCRIPTOR)}\n", *names])
    return hashlib.sha256(whole.encode()).hexdigest()


def _file_sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def recompute_all(
    paths: Sequence[Path], results: Path, *, cores: int = 0, scheduler: str = ""
) -> Generator[Line, None, None]:
    """Score `paths`, yield each line as it is done, and leave all of them in `results`.

    Parameters
    ----------
    paths : sequence of Path
    results : Path
        JSON Lines, sorted by record; beside it ``.partial`` while the work goes on.
    cores : int
        Of this machine; 0 for all. Without effect with `scheduler`.
    scheduler : str
        Address of a Dask scheduler, "tcp://host:8786"; "" for this machine. Its workers must see
        the same paths.

    Raises
    ------
    ConfigError
        If the results already exist, cannot be written or are being written by another program,
        the scheduler cannot be reached, or its workers run another version of this program.
    ChargeAssistError
        If a process that worked was ended from outside.
    """
    expect_folder(results)
    try:
        lock = FileLock(results, "these results", "wait for it, or choose another name")
    except RecordError as exc:
        raise ConfigError(str(exc)) from exc
    try:
        if results.exists():
            raise ConfigError(f"{results}: already exists; choose another name")
        yield from _recomputed(paths, results, cores, scheduler)
    except OSError as exc:
        raise ConfigError(
            f"{results}: cannot be written ({exc.strerror or exc}); choose a place with room that "
            "you may write to"
        ) from exc
    finally:
        lock.release()


def _recomputed(
    paths: Sequence[Path], results: Path, cores: int, scheduler: str
) -> Generator[Line, None, None]:
    kept = results.with_name(f"{results.name}.partial")
    before = _done_before(kept)
    lines = {str(path): before[str(path)] for path in paths if _is_done(path, before)}
    yield from tuple(lines.values())
    left = [path for path in paths if str(path) not in lines]
    with kept.open("a", encoding="utf-8", newline="\n") as file:
        work = on_cluster(left, scheduler) if scheduler else on_cores(left, cores)
        for line in work:
            lines[line["record"]] = line
            _write(file, line)
            yield line
    # Beside what is kept, which is not let go before the results are there.
    ordered = results.with_name(f"{results.name}.sorted")
    text = "".join(_text(lines[name]) for name in sorted(lines))
    ordered.write_text(text, encoding="utf-8", newline="\n")
    ordered.rename(results)
    kept.unlink()


def on_cores(paths: Sequence[Path], cores: int) -> Iterator[Line]:
    """Yield the line of each path, from as many processes as there are cores."""
    for _, line in each(score, paths, cores):
        yield line


def on_cluster(paths: Sequence[Path], scheduler: str) -> Iterator[Line]:
    """Yield the line of each path, from the workers of a Dask scheduler.

    A worker that dies costs the sessions it had not delivered: they go to another one.
    """
    with extra("fleet", "a Dask cluster"):
        from distributed import Client, as_completed
        from distributed.comm.addressing import parse_address
        from distributed.comm.registry import get_backend
    try:
        # A client that finds no way by its address hangs for 40 s when it is let go of.
        get_backend(parse_address(scheduler)[0])
        client = Client(scheduler, timeout=CONNECT_WITHIN, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as exc:
        raise ConfigError(
            f"{scheduler}: no Dask scheduler answers ({exc}); expected tcp://HOST:8786"
        ) from exc
    with client:
        try:
            client.wait_for_workers(1, timeout=CONNECT_WITHIN)
        except TimeoutError as exc:
            raise ConfigError(
                f"{scheduler}: the Dask scheduler has no worker; start one: dask worker {scheduler}"
            ) from exc
        _check_workers(client.run(_versions))
        cores = sum(client.nthreads().values())
        waiting = iter(paths)
        under_way = as_completed(loop=client.loop, with_results=True, raise_errors=False)
        path_of: dict[str, Path] = {}

        def send(count: int) -> None:
            for _, path in zip(range(count), waiting, strict=False):
                future = client.submit(score, path, pure=False)
                path_of[future.key] = path
                under_way.add(future)

        send(cores * WAITING_PER_CORE)
        for future, result in under_way:
            path = path_of.pop(future.key)
            if future.status == "finished":
                line: Line = result
            else:  # a session that took down every worker it was given to
                line = {"record": str(path), "error": f"no worker survived it ({future.status})"}
            future.release()
            send(1)
            yield line


def _versions() -> tuple[str, str]:
    return software(), table_hash()


def _check_workers(versions: Mapping[str, tuple[str, str]]) -> None:
    ours = _versions()
    for worker, theirs in versions.items():
        if tuple(theirs) != ours:
            raise ConfigError(
                f"worker {worker} runs {theirs[0]} with table {theirs[1][:12]}, expected "
                f"{ours[0]} with {ours[1][:12]}: results would depend on who computed them"
            )


def _done_before(path: Path) -> dict[str, Line]:
    """Return the lines of an interrupted run; a line cut off by the stop is left out."""
    if not path.exists():
        return {}
    found: dict[str, Line] = {}
    whole = path.read_bytes().rpartition(b"\n")[0]
    for text in whole.splitlines():
        try:
            line = json.loads(text)
        except (ValueError, RecursionError):
            continue
        if _is_line(line):
            found[line["record"]] = line
    path.write_bytes(whole + b"\n" if whole else b"")
    return found


def _is_line(line: object) -> bool:
    if not isinstance(line, dict) or not isinstance(line.get("record"), str):
        return False
    texts = line.get("differences", [])
    whole = isinstance(line.get("differ"), int) and isinstance(texts, list)
    return isinstance(line.get("error"), str) or (whole and (not line["differ"] or bool(texts)))


def _is_done(path: Path, done: Mapping[str, Line]) -> bool:
    """Return whether the line of `path` holds for its content and for today's software."""
    line = done.get(str(path))
    if line is None or "error" in line:
        return False
    try:
        same = line.get("sha256") == content_sha256(path)
    except (OSError, RecordError):
        return False
    return same and (line.get("software"), line.get("table_hash")) == _versions()


def _write(file: TextIO, line: Line) -> None:
    file.write(_text(line))
    file.flush()


def _text(line: Line) -> str:
    return storable(json.dumps(line, ensure_ascii=False, sort_keys=True)) + "\n"
