"""Records of one session in one folder: the newest archive is what the dataset holds."""

from itertools import pairwise, permutations
from pathlib import Path

import pytest

from chargeassist.cli.main import main
from chargeassist.model.events import Event
from chargeassist.qa.archive import Supersedes, make_archive
from chargeassist.qa.fleet_query import FleetReader
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
