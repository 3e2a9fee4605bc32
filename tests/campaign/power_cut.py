"""What a disk may hold after the power has failed, from a log of what a program did to its files.

The model is that of a disk that honours a sync and promises nothing else: what was synced is there;
of what was written since, each sector of 512 bytes is there or is not, by chance; names that were
made, changed or removed since the folder was last synced are done up to a random point, in order.
"""

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tests.campaign.shim import Operation

SECTOR = 512


@dataclass
class _File:
    """Content that is safe, and what was done since."""

    safe: bytearray = field(default_factory=bytearray)
    since: list[Operation] = field(default_factory=list)

    def sync(self) -> None:
        for operation in self.since:
            _apply(self.safe, operation)
        self.since = []

    def after_cut(self, chance: random.Random) -> bytes:
        """Return what may be found of it."""
        content = bytearray(self.safe)
        for operation in self.since:
            if operation.op == "T":
                if chance.random() < 0.5:
                    _apply(content, operation)
                continue
            for piece in _sectors(operation):
                if chance.random() < 0.5:
                    _apply(content, piece)
        return bytes(content)


def _apply(content: bytearray, operation: Operation) -> None:
    if operation.op == "T":
        del content[operation.offset :]
        content.extend(bytes(operation.offset - len(content)))
        return
    end = operation.offset + len(operation.data)
    if end > len(content):
        content.extend(bytes(end - len(content)))
    content[operation.offset : end] = operation.data


def _sectors(write: Operation) -> Iterable[Operation]:
    at = write.offset
    end = write.offset + len(write.data)
    while at < end:
        stop = min(end, (at // SECTOR + 1) * SECTOR)
        data = write.data[at - write.offset : stop - write.offset]
        yield Operation("W", write.steady_s, at, write.path, data)
        at = stop


class Disk:
    """Follows the operations of one program on the files of one folder.

    Parameters
    ----------
    folder : Path
    """

    def __init__(self, folder: Path) -> None:
        self._folder = str(folder.resolve())
        self._safe: dict[str, _File] = {}
        self._now: dict[str, _File] = {}
        self._names: list[Operation] = []

    def do(self, operation: Operation) -> None:
        """Take the next operation."""
        match operation.op:
            case "C":
                # What the name stood for before is gone; the content belongs to the file.
                self._now[operation.path] = _File()
                self._names.append(operation)
            case "R" | "U":
                self._rename(self._now, operation)
                self._names.append(operation)
            case "S" if operation.path == self._folder:
                self._safe = dict(self._now)
                self._names = []
            case "S":
                self._now.setdefault(operation.path, _File()).sync()
            case _:
                self._now.setdefault(operation.path, _File()).since.append(operation)

    @staticmethod
    def _rename(names: dict[str, _File], operation: Operation) -> None:
        file = names.pop(operation.path, None)
        if operation.op == "R" and file is not None:
            names[operation.data.decode()] = file

    def cut(self, torn: Operation, chance: random.Random) -> dict[str, bytes]:
        """Return content by name as it may be found if power fails during `torn`."""
        names = dict(self._safe)
        files = {op.path: self._now.get(op.path, _File()) for op in self._names if op.op == "C"}
        for operation in self._names[: chance.randint(0, len(self._names))]:
            if operation.op == "C":
                names[operation.path] = files[operation.path]
            else:
                self._rename(names, operation)
        if torn.op == "W":
            self._now.setdefault(torn.path, _File()).since.append(torn)
        found = {name: file.after_cut(chance) for name, file in names.items()}
        if torn.op == "W":
            self._now[torn.path].since.pop()
        return found


def cuts(
    operations: Sequence[Operation], folder: Path, count: int, chance: random.Random
) -> Iterable[tuple[float, dict[str, bytes]]]:
    """Yield (time of the cut by ``time.monotonic`` [s], content by name) for `count` random cuts.

    Parameters
    ----------
    operations : sequence of Operation
        All that the program did.
    folder : Path
        The folder its files lie in.
    count : int
    chance : random.Random
    """
    at = sorted(chance.choices(range(len(operations)), k=count))
    disk = Disk(folder)
    done = 0
    for place in at:
        for operation in operations[done:place]:
            disk.do(operation)
        done = place
        yield operations[place].steady_s, disk.cut(operations[place], chance)
