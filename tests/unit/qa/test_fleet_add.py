"""Records of one session in one folder: the newest archive is what the dataset holds."""

import os
import subprocess
import sys
from itertools import pairwise, permutations
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from chargeassist.cli.main import main
from chargeassist.model.events import Event
from chargeassist.qa.archive import Supersedes, make_archive
from chargeassist.qa.fleet_add import AddState, add, add_session
from chargeassist.qa.fleet_query import FleetReader
from chargeassist.qa.fleet_store import FleetStore
from chargeassist.qa.fleet_tables import date_of, fleet_tables
from chargeassist.qa.seal import sealed_as
from chargeassist.session.record.package import open_record, write_package


@pytest.fixture(scope="module")
def three(
    tmp_path_factory: pytest.TempPathFactory, good: list[Event]
) -> tuple[list[Path], list[str]]:
    """An archive, the one that supersedes it and the one that supersedes that; and their seals."""
    folder = tmp_path_factory.mktemp("three")
    write_package(good, folder / "p")
    paths = [folder / f"{number}.zip" for number in range(3)]
    make_archive(folder / "p", paths[0])
    for old, new in pairwise(paths):
        make_archive(folder / "p", new, supersedes=Supersedes(old, f"after {old.name}"))
    seals = []
    for path in paths:
        with open_record(path) as record:
            seals.append(sealed_as(record.folder))  # type: ignore[union-attr]
    return paths, seals


def held(address: Path) -> list[tuple[str]]:
    reader = FleetReader(str(address))
    try:
        return list(reader.select("SELECT sealed_as FROM sessions").rows)
    finally:
        reader.close()


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_the_newest_archive_of_a_folder_is_added_whatever_its_name(
    tmp_path: Path,
    three: tuple[list[Path], list[str]],
    order: tuple[int, ...],
    capsys: pytest.CaptureFixture[str],
) -> None:
    paths, seals = three
    folder = tmp_path / "in"
    folder.mkdir()
    for place, number in enumerate(order):
        (folder / f"{place}.zip").write_bytes(paths[number].read_bytes())
    address = tmp_path / "fleet"
    for told in ("1 added, 2 left out", "1 there already, 2 left out"):
        assert main(["fleet", "add", str(folder), "--to", str(address), "--cores", "1"]) == 0
        assert told in capsys.readouterr().out
    assert held(address) == [(seals[2],)]


@pytest.mark.parametrize("added", [[[0, 1, 2]], [[0, 1], [1, 2]], [[0], [0, 1], [1, 2]]])
def test_an_older_archive_that_comes_later_is_left_out(
    tmp_path: Path, three: tuple[list[Path], list[str]], added: list[list[int]]
) -> None:
    paths, seals = three
    address = str(tmp_path / "fleet")
    for numbers in added:
        add_session([paths[number] for number in numbers], address)
    assert held(tmp_path / "fleet") == [(seals[2],)]
    for number in (0, 1):  # alone: nothing else here says what supersedes it
        assert add(paths[number], address).state is AddState.OLDER
    assert held(tmp_path / "fleet") == [(seals[2],)]


def test_a_dataset_of_an_earlier_version_is_added_to(
    tmp_path: Path, three: tuple[list[Path], list[str]]
) -> None:
    paths, seals = three
    address = tmp_path / "fleet"
    assert add(paths[0], str(address)).state is AddState.ADDED
    (place,) = (address / "sessions").rglob("*.parquet")
    pq.write_table(pq.read_table(place, partitioning=None).drop_columns("supersedes"), place)
    assert add(paths[0], str(address)).state is AddState.THERE
    assert {done.state for _, done in add_session(list(paths[:2]), str(address))} == {
        AddState.REPLACED,
        AddState.OLDER,
    }
    assert held(address) == [(seals[1],)]


def test_workers_do_not_share_a_session(
    tmp_path: Path, three: tuple[list[Path], list[str]]
) -> None:
    paths, seals = three
    address = tmp_path / "fleet"
    assert main(["fleet", "add", str(paths[0].parent), "--to", str(address), "--cores", "3"]) == 0
    assert held(address) == [(seals[2],)]


def test_an_archive_outranks_what_was_not_sealed(
    tmp_path: Path, three: tuple[list[Path], list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    paths, seals = three
    plain, address = str(paths[0].parent / "p"), tmp_path / "fleet"
    for place, told in (
        (plain, "1 added"),
        (str(paths[1]), "1 replaced"),  # it supersedes an archive that never was there
        (plain, "1 left out"),
    ):
        assert main(["fleet", "add", place, "--to", str(address), "--cores", "1"]) == 0
        assert told in capsys.readouterr().out
    assert held(address) == [(seals[1],)]


def test_two_that_supersede_the_same_one_are_not_chosen_between(
    tmp_path: Path, three: tuple[list[Path], list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    paths, _ = three
    folder = tmp_path / "in"
    folder.mkdir()
    make_archive(
        paths[0].parent / "p", folder / "other.zip", supersedes=Supersedes(paths[0], "another why")
    )
    for path in paths[:2]:
        (folder / path.name).write_bytes(path.read_bytes())
    address = tmp_path / "fleet"
    assert main(["fleet", "add", str(folder), "--to", str(address), "--cores", "1"]) == 1
    out = capsys.readouterr().out
    assert "does not supersede it" in out
    assert "1 added, 1 left out" in out
    assert len(held(address)) == 1


def adding(places: list[Path], address: Path) -> subprocess.Popen[str]:
    """Begin `fleet add` in a program of its own, which goes on when it is told a line."""
    program = (
        "import sys; from chargeassist.cli.main import main; import pyarrow.parquet; "
        "sys.stdin.readline(); sys.exit(main(sys.argv[1:]))"
    )
    argv = ["fleet", "add", *map(str, places), "--to", str(address), "--cores", "1"]
    return subprocess.Popen(
        [sys.executable, "-c", program, *argv],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def together(first: subprocess.Popen[str], second: subprocess.Popen[str]) -> list[str]:
    """Let both go at the same moment; return what each printed, after both ended well."""
    for one in (first, second):
        assert one.stdin is not None
        one.stdin.write("\n")
        one.stdin.flush()
    told = [one.communicate(timeout=120) for one in (first, second)]
    assert (first.returncode, second.returncode) == (0, 0), told
    return [out for out, _ in told]


def test_two_programs_that_add_the_same_archives_lose_none(tmp_path: Path, archives: Path) -> None:
    places, address = [archives], tmp_path / "fleet"
    told = together(adding(places, address), adding(places, address))
    added = sum(int(each.split(" added")[0].split()[-1]) for each in told if " added" in each)
    assert added == 4, f"each once: {told}"
    reader = FleetReader(str(address))
    try:
        assert reader.select("SELECT count(*) FROM sessions").rows == [(4,)]
        counted = reader.select(
            "SELECT count(*) FROM sessions s WHERE s.readings = "
            "(SELECT count(*) FROM readings r WHERE r.session_id = s.session_id)"
        )
        assert counted.rows == [(4,)], "whole"
    finally:
        reader.close()
    assert [
        path for path in address.rglob("*") if path.is_file() and path.suffix != ".parquet"
    ] == []


def test_two_programs_with_two_archives_of_a_session_leave_the_newer_one(
    tmp_path: Path, three: tuple[list[Path], list[str]]
) -> None:
    paths, seals = three
    # Each knows which archives its own supersedes.
    address = tmp_path / "fleet"
    together(adding(paths, address), adding(paths[:2], address))
    assert held(address) == [(seals[2],)]


def test_a_program_waits_for_the_session_another_one_holds(
    tmp_path: Path, three: tuple[list[Path], list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    paths, _ = three
    address = tmp_path / "fleet"
    store = FleetStore(str(address))
    with open_record(paths[0]) as record:
        started = record.started
    monkeypatch.setattr("chargeassist.qa.fleet_store.WAITS_S", 0.2)
    with store.alone(started):
        refused = add(paths[0], str(address))
    assert refused.state is AddState.REFUSED
    assert "another running chargeassist is writing this session of the dataset" in refused.reason
    assert add(paths[0], str(address)).state is AddState.ADDED


def test_a_file_that_could_not_be_finished_is_not_left_and_an_old_one_not_read(
    tmp_path: Path, three: tuple[list[Path], list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    paths, seals = three
    address = tmp_path / "fleet"

    def full(*_: object, **__: object) -> None:
        raise OSError(28, os.strerror(28))

    with monkeypatch.context() as patched:
        patched.setattr("pyarrow.parquet.write_table", full)
        assert add(paths[0], str(address)).state is AddState.REFUSED
    assert [path for path in address.rglob("*") if path.is_file()] == []
    with open_record(paths[0]) as record:
        at = Path(FleetStore(str(address)).path("readings", date_of(record.started), "x")).parent
        (at / f".{record.started.session_id}.partial").write_bytes(b"of one that was killed")
    assert add(paths[0], str(address)).state is AddState.ADDED
    assert held(address) == [(seals[0],)]
    assert list(address.rglob("*.partial")) == []


def test_a_session_that_is_replaced_is_never_half_of_one_and_half_of_another(
    tmp_path: Path, three: tuple[list[Path], list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    paths, seals = three
    address = tmp_path / "fleet"
    assert add(paths[0], str(address)).state is AddState.ADDED
    write, written = pq.write_table, iter(range(5))

    def full(*args: object, **named: object) -> None:
        if next(written) == 3:
            raise OSError(28, os.strerror(28))
        write(*args, **named)

    with monkeypatch.context() as patched:
        patched.setattr("pyarrow.parquet.write_table", full)
        for path, done in add_session(list(paths[:2]), str(address)):
            assert done.state is (AddState.REFUSED if path == paths[1] else AddState.THERE)
    assert held(address) == [(seals[0],)]
    kept = {p: p.read_bytes() for p in address.rglob("*.parquet")}
    assert len(kept) == 5

    # Killed while the names were given: nothing says that the session is there.
    moved = iter(range(5))
    files = FleetStore(str(address)).files
    move = files.mv

    def killed(*args: object, **named: object) -> None:
        if next(moved) == 2:
            raise KeyboardInterrupt
        move(*args, **named)

    with monkeypatch.context() as patched:
        patched.setattr(type(files), "mv", staticmethod(killed))
        with pytest.raises(KeyboardInterrupt):
            add_session(list(paths[:2]), str(address))
    assert list((address / "sessions").rglob("*.parquet")) == []
    assert add(paths[0], str(address)).state is AddState.ADDED
    assert held(address) == [(seals[0],)]


def test_a_dataset_is_not_put_into_a_folder_of_something_else(
    tmp_path: Path, three: tuple[list[Path], list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    paths, seals = three
    folder = paths[0].parent
    before = sorted(folder.iterdir())
    for place, told in ((folder, "a new or an empty folder"), (paths[0], "a file stands there")):
        assert main(["fleet", "add", str(paths[0]), "--to", str(place), "--cores", "1"]) == 2
        assert told in capsys.readouterr().err
    assert sorted(folder.iterdir()) == before
    (tmp_path / "empty").mkdir()
    assert main(["fleet", "add", str(paths[2]), "--to", str(tmp_path / "empty")]) == 0
    (tmp_path / "empty" / "readme.txt").write_text("ours", encoding="utf-8")
    assert main(["fleet", "add", str(paths[2]), "--to", str(tmp_path / "empty")]) == 0
    assert held(tmp_path / "empty") == [(seals[2],)]


def test_who_stops_it_is_told_what_is_in_and_how_to_go_on(
    tmp_path: Path,
    archives: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    done = iter(range(3))

    def stopped(*_: object, **__: object) -> object:
        if next(done) == 2:
            raise KeyboardInterrupt
        return fleet_tables(*_, **__)  # type: ignore[arg-type]

    argv = ["fleet", "add", str(archives), "--to", str(tmp_path / "f"), "--cores", "1"]
    with monkeypatch.context() as patched:
        patched.setattr("chargeassist.qa.fleet_add.fleet_tables", stopped)
        assert main(argv) == 130
    assert "stopped after 2 of 4 records" in capsys.readouterr().err
    assert main(argv) == 0
    assert "2 added, 2 there already" in capsys.readouterr().out


def test_writers_at_an_address_on_the_network_share_no_unfinished_file(
    three: tuple[list[Path], list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    paths, _ = three
    store = FleetStore("memory://shared-fleet")
    opened: list[str] = []
    real = store.files.open

    def noted(path: str, mode: str) -> object:
        opened.append(path)
        return real(path, mode)

    with open_record(paths[0]) as record:
        tables = fleet_tables(record, "")
        monkeypatch.setattr(store.files, "open", noted)
        for _ in range(2):
            with store.alone(record.started):
                store.write(tables)
    names = [path.rpartition("/")[2] for path in opened]
    assert len(names) == 10
    assert set(names[:5]).isdisjoint(names[5:])
    assert all(name.startswith(".") for name in names), "engines leave them out"
    left = [path for path in store.files.find(store.root) if not path.endswith(".parquet")]
    assert left == []
