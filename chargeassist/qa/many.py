"""One function over many records, on one core or several; a bad record never stops the others."""

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import TypeVar

from chargeassist.model.errors import ChargeAssistError, ConfigError
from chargeassist.session.record.package_layout import DESCRIPTOR
from chargeassist.session.record.store_schema import SUFFIX as SESSION
from chargeassist.session.record.zipped import SUFFIX as ZIP
from chargeassist.session.record.zipped import is_session_file, is_zip

_T = TypeVar("_T")
_R = TypeVar("_R")


def records_under(places: Sequence[Path]) -> list[Path]:
    """Return every session file, package folder and ZIP at or below `places`, sorted, each once.

    Once also where it is reached by two names, as by a relative and an absolute one or by a link:
    a record counted twice would be a wrong count.

    Raises
    ------
    ConfigError
        If a place is not there or holds none.
    """
    found: set[Path] = set()
    for place in places:
        here = {_package_of(place)} if _is_record(place) else set(_below(place))
        if not here and not place.exists():
            raise ConfigError(f"{place}: nothing is there; expected a record, or a folder of them")
        if not here:
            raise ConfigError(
                f"{place}: expected a record, or a folder of session files ({SESSION}), packages "
                f"(folders with {DESCRIPTOR}) and archives ({ZIP}); found none"
            )
        found |= here
    # The same file under its other names is let go; the first name stays.
    return sorted({path.resolve(): path for path in sorted(found, reverse=True)}.values())


def each(
    work: Callable[[_T], _R], items: Sequence[_T], cores: int
) -> Generator[tuple[_T, _R], None, None]:
    """Yield (item, result) of `work` as they come; `work` must not raise.

    Parameters
    ----------
    work : callable
        Importable by another process.
    items : sequence
        Paths, as a rule.
    cores : int
        0 for as many as there are.

    Raises
    ------
    ChargeAssistError
        If a process that worked was ended from outside.
    """
    count = min(cores or os.cpu_count() or 1, len(items))
    if count <= 1:
        for item in items:
            yield item, work(item)
        return
    # Fresh interpreters: forking one that runs threads may stop both.
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(count, context, _begin_working)
    try:
        waiting = {pool.submit(work, item): item for item in items}
        for future in as_completed(waiting):
            yield waiting[future], future.result()
    except BrokenProcessPool as exc:
        raise ChargeAssistError(
            "a process that worked on the records was ended from outside, as a rule for want of "
            "memory; try again with fewer --cores"
        ) from exc
    finally:
        # Left early, as by Ctrl-C: what has not begun does not begin any more.
        pool.shutdown(cancel_futures=True)


def why_not(error: Exception) -> str:
    """Return what kept a record from being worked on, in words.

    A record comes from anywhere. One that meets a fault of this program must not stop the thousands
    beside it, so `work` may catch whatever comes; the name of the error tells it from our words.
    """
    if isinstance(error, ChargeAssistError):
        return str(error)
    return f"{type(error).__name__}: {error}"


def _begin_working() -> None:
    """Leave Ctrl-C to the process that asked for the work, and end where that one has ended."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """End this process once the one that asked is gone: it would wait for work for ever."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _is_record(path: Path) -> bool:
    """Return whether the place `path` itself is a record; a file is known by what is in it too."""
    if path.is_dir():
        return (path / DESCRIPTOR).is_file()
    if not path.is_file():
        return False
    named = path.name == DESCRIPTOR or path.suffix.lower() in {SESSION, ZIP}
    return named or is_session_file(path) or is_zip(path)


def _package_of(path: Path) -> Path:
    """Return the folder of a package that is named by its descriptor; else `path`."""
    return path.parent if path.name == DESCRIPTOR else path


def _tell(error: OSError) -> None:
    """Raise: records in a folder that cannot be looked into must not be missing in silence."""
    raise ConfigError(
        f"{error.filename}: cannot be looked into ({error.strerror}); records may lie in it"
    ) from error


def _below(folder: Path) -> Iterator[Path]:
    if not folder.is_dir():
        return
    for root, names, files in os.walk(folder, onerror=_tell):
        here = Path(root)
        if DESCRIPTOR in files and (here / DESCRIPTOR).is_file():
            names.clear()
            yield here
            continue
        names[:] = [name for name in names if not name.startswith(".")]
        for name in files:
            # A pipe or a device of that name would be waited for without end.
            if name.lower().endswith((SESSION, ZIP)) and name[0] != "." and (here / name).is_file():
                yield here / name
