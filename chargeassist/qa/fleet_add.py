"""Add records to a fleet's dataset: session by session, of each the newest archive.

A folder may hold a session file, its archive and the archive that supersedes that one. Two workers
must not write one session, and the result must not depend on the order of names: so the records of
a session go to one worker, which begins with the newest. Another program that adds at the same time
is waited for, session by session (`FleetStore.alone`).
"""

import json
import zipfile
from collections import defaultdict
from collections.abc import Generator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from pathlib import Path

from chargeassist.qa.fleet_store import FleetStore, Held
from chargeassist.qa.fleet_tables import fleet_tables
from chargeassist.qa.many import each, why_not
from chargeassist.qa.verify import Verification, verify
from chargeassist.session.record.package import open_record
from chargeassist.session.record.package_layout import DESCRIPTOR
from chargeassist.session.record.package_reader import MAX_DESCRIPTOR_BYTES
from chargeassist.session.record.zipped import is_zip


class AddState(StrEnum):
    """What became of a record."""

    ADDED = "added"
    THERE = "there already"
    REPLACED = "replaced the earlier one"
    OLDER = "left out for a newer archive of the same session"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Added:
    """What became of one record, and why it was refused.

    Attributes
    ----------
    readings : int
        Written.
    """

    state: AddState
    reason: str = ""
    readings: int = 0


def add_all(
    paths: Sequence[Path], address: str, *, cores: int = 0, unverified: bool = False
) -> Generator[tuple[Path, Added], None, None]:
    """Add the records at `paths` to the dataset at `address`; yield what became of each.

    Parameters
    ----------
    paths : sequence of Path
        Session files, packages or archives.
    address : str
    cores : int
        0 for as many as there are.
    unverified : bool
        Whether a record that contradicts itself is added all the same.

    Raises
    ------
    ConfigError
        If the address cannot be used, or is a folder that holds something else.
    ChargeAssistError
        If a process that worked was ended from outside.
    """
    FleetStore(address).expect_place()
    by_session: dict[str, list[Path]] = defaultdict(list)
    for path in paths:
        by_session[_session_of(path)].append(path)
    work = partial(add_session, address=address, unverified=unverified)
    for _, done in each(work, [tuple(each_one) for each_one in by_session.values()], cores):
        yield from done


def add_session(
    paths: Sequence[Path], address: str, *, unverified: bool = False
) -> list[tuple[Path, Added]]:
    """Add the newest of the records `paths` of one session; never raises for what is in them."""
    done: list[tuple[Path, Added]] = []
    sound: list[tuple[Path, Verification]] = []
    for path in paths:
        try:
            found = verify(path)
        except Exception as exc:  # noqa: BLE001  told as the reason; see why_not
            done.append((path, Added(AddState.REFUSED, why_not(exc))))
            continue
        if found.ok or unverified:
            sound.append((path, found))
        else:
            reasons = found.problems or ("the end of the session is missing",)
            done.append((path, Added(AddState.REFUSED, "; ".join(reasons))))
    before = {found.sealed_as: found.supersedes for _, found in sound if found.sealed_as}
    newest_first = sorted(
        sound,
        key=lambda one: (
            not one[1].sealed_as,
            not one[1].complete,
            -len(_ancestors(one[1].sealed_as, before)),
            one[0],
        ),
    )
    for path, found in newest_first:
        try:
            done.append((path, _add(path, found, address, before)))
        except Exception as exc:  # noqa: BLE001  told as the reason; see why_not
            done.append((path, Added(AddState.REFUSED, why_not(exc))))
    return done


def add(path: Path, address: str, *, unverified: bool = False) -> Added:
    """Add the record at `path` as `add_session` does."""
    ((_, added),) = add_session([path], address, unverified=unverified)
    return added


def _add(path: Path, found: Verification, address: str, before: Mapping[str, str]) -> Added:
    store = FleetStore(address)
    with open_record(path) as record, store.alone(record.started):
        there = store.held(record.started)
        if there is not None:
            left = _why_left(there, found, before)
            if left is not None:
                return left
        known = _ancestors(found.sealed_as, before)
        if there is not None and there.sealed_as in known:
            known += [seal for seal in there.supersedes if seal not in known]
        tables = fleet_tables(record, found.sealed_as, known)
        store.write(tables)
    state = AddState.ADDED if there is None else AddState.REPLACED
    return Added(state, readings=len(tables.tables["readings"]["t"]))


def _why_left(there: Held, found: Verification, before: Mapping[str, str]) -> Added | None:
    """Return why a record does not replace what is there of its session; None if it does."""
    if not there.sealed_as:
        # An archive outranks what was not sealed; one without an end may have gone on.
        return Added(AddState.THERE) if there.ended and not found.sealed_as else None
    if found.sealed_as == there.sealed_as:
        return Added(AddState.THERE)
    if found.sealed_as:
        if there.sealed_as in _ancestors(found.sealed_as, before):
            return None
        if found.sealed_as in (*there.supersedes, *_ancestors(there.sealed_as, before)):
            return Added(AddState.OLDER)
        reason = "another archive of this session is there, and this one does not supersede it"
        return Added(AddState.REFUSED, reason)
    if there.ended or not found.complete:
        return Added(AddState.OLDER)
    reason = "an archive of this session without its end is there; archive this one, superseding it"
    return Added(AddState.REFUSED, reason)


def _ancestors(seal: str, before: Mapping[str, str]) -> list[str]:
    """Return the seals of the archives that the one of `seal` supersedes, the newest first."""
    found: list[str] = []
    while (seal := before.get(seal, "")) and seal not in found:
        found.append(seal)
    return found


def _session_of(path: Path) -> str:
    """Return the number of the session at `path` at a glance; its path where that fails."""
    try:
        if path.is_dir():
            with (path / DESCRIPTOR).open("rb") as file:
                return _number_in(file.read(MAX_DESCRIPTOR_BYTES))
        if is_zip(path):
            with zipfile.ZipFile(path) as archive, archive.open(DESCRIPTOR) as member:
                return _number_in(member.read(MAX_DESCRIPTOR_BYTES))
        with open_record(path) as record:
            return record.started.session_id
    except Exception:  # noqa: BLE001  told when it is added
        return str(path)


def _number_in(descriptor: bytes) -> str:
    return str(json.loads(descriptor)["chargeassist"]["session_id"])
