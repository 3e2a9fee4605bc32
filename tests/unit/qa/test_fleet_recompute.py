"""A fleet scored again on local cores: stopped, resumed, with bad records among good ones."""

import json
import os
from pathlib import Path

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.events import (
    Event,
)
from chargeassist.qa.audit import as_csv, as_json, audit_one, crossed
from chargeassist.qa.fleet_recompute import content_sha256, recompute_all, score
from chargeassist.qa.many import records_under
from chargeassist.session.record.package import write_package
from chargeassist.session.record.store import SessionWriter
from tests.unit.qa.audited import SCHOOL
from tests.unit.qa.fleets import variant


def test_one_core_and_two_write_the_same_bytes(tmp_path: Path, with_bad: list[Path]) -> None:
    one = list(recompute_all(with_bad, tmp_path / "one.jsonl", cores=1))
    assert len(list(recompute_all(with_bad, tmp_path / "two.jsonl", cores=2))) == len(one) == 5
    assert (tmp_path / "one.jsonl").read_bytes() == (tmp_path / "two.jsonl").read_bytes()
    assert sum("error" in line for line in one) == 1, "a bad archive stops nothing"
    assert not (tmp_path / "one.jsonl.partial").exists()
    with pytest.raises(ConfigError, match="already exists"):
        list(recompute_all(with_bad, tmp_path / "one.jsonl"))


def test_a_stopped_run_goes_on_where_it_was(
    tmp_path: Path, with_bad: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = tmp_path / "whole.jsonl"
    list(recompute_all(with_bad, whole, cores=1))
    results = tmp_path / "results.jsonl"
    run = recompute_all(with_bad, results, cores=1)
    first = [next(run), next(run)]
    run.close()
    with (tmp_path / "results.jsonl.partial").open("ab") as file:
        file.write(b'{"record": "cut of')
    scored: list[Path] = []

    def counted(path: Path) -> dict[str, object]:
        scored.append(path)
        return score(path)

    monkeypatch.setattr("chargeassist.qa.fleet_recompute.score", counted)
    assert len(list(recompute_all(with_bad, results, cores=1))) == 5
    assert results.read_bytes() == whole.read_bytes()
    assert {str(path) for path in scored}.isdisjoint(line["record"] for line in first)


def test_a_place_that_takes_no_results_is_named(tmp_path: Path, with_bad: list[Path]) -> None:
    with pytest.raises(ConfigError, match="there is no folder"):
        list(recompute_all(with_bad, tmp_path / "nowhere" / "r.jsonl", cores=1))


def test_two_programs_do_not_write_the_same_results(tmp_path: Path, with_bad: list[Path]) -> None:
    results = tmp_path / "results.jsonl"
    first = recompute_all(with_bad, results, cores=1)
    next(first)
    with pytest.raises(ConfigError, match=r"another running chargeassist .* choose another name"):
        list(recompute_all(with_bad, results, cores=1))
    assert len(list(first)) == 4, "the one that was there goes on"
    assert [path.name for path in tmp_path.glob("results*")] == ["results.jsonl"]


def test_a_record_that_changed_is_scored_again(tmp_path: Path, with_bad: list[Path]) -> None:
    results = tmp_path / "results.jsonl"
    run = recompute_all(with_bad, results, cores=1)
    line = next(run)
    run.close()
    path = Path(line["record"])
    path.write_bytes(with_bad[1].read_bytes())
    list(recompute_all(with_bad, results, cores=1))
    lines = [json.loads(text) for text in results.read_text(encoding="utf-8").splitlines()]
    again = next(each for each in lines if each["record"] == str(path))
    assert again["sha256"] == content_sha256(with_bad[1])


def test_a_package_whose_readings_changed_is_scored_again(
    tmp_path: Path, charged: list[Event]
) -> None:
    (tmp_path / "in").mkdir()
    for number in range(2):
        write_package(variant(charged, number), tmp_path / "in" / f"{number}")
    paths = records_under([tmp_path / "in"])
    run = recompute_all(paths, tmp_path / "r.jsonl", cores=1)
    before = next(run)
    run.close()
    # Its descriptor, which gives the hash of this file, stays as it was.
    readings = Path(before["record"]) / "readings.csv"
    kept = readings.read_text(encoding="utf-8").splitlines(keepends=True)
    readings.write_text("".join(kept[:-1]), encoding="utf-8", newline="\n")
    after = {line["record"]: line for line in recompute_all(paths, tmp_path / "r.jsonl", cores=1)}
    assert after[before["record"]] != before


def test_a_session_that_went_on_in_its_log_is_scored_again(
    tmp_path: Path, charged: list[Event]
) -> None:
    path = tmp_path / "live.session"
    writer = SessionWriter.create(path, charged[0])  # type: ignore[arg-type]
    hashes = set()
    for begin in (1, 200, 400):
        for event in charged[begin : begin + 200]:
            writer.append(event)
        writer.commit()  # into the log: the file itself stays as it is
        hashes.add(content_sha256(path))
    writer.abandon()
    assert len(hashes) == 3


@pytest.mark.skipif(os.name == "nt", reason="names of files are text there")
def test_a_name_that_is_no_text_stops_nothing(tmp_path: Path, archives: Path) -> None:
    folder = tmp_path / "records"
    folder.mkdir()
    first, second = sorted(archives.iterdir())[:2]
    strange = Path(os.fsdecode(os.fsencode(folder) + b"/caf\xe9.zip"))
    try:
        strange.write_bytes(first.read_bytes())
    except OSError:
        pytest.skip("this file system takes only text")
    (folder / "plain.zip").write_bytes(second.read_bytes())
    paths = records_under([folder])
    results = tmp_path / "results.jsonl"
    run = recompute_all(paths, results, cores=1)
    assert "error" not in next(run)
    run.close()
    assert len(list(recompute_all(paths, results, cores=1))) == 2, "it goes on where it was"
    lines = [json.loads(line) for line in results.read_text(encoding="utf-8").splitlines()]
    assert [line["record"] for line in lines] == sorted(map(str, paths))
    audited = crossed([audit_one(path, SCHOOL) for path in paths])
    assert [item["record"] for item in json.loads(as_json(audited).encode())] == sorted(
        map(str, paths)
    )
    assert "caf" in as_csv(audited).encode().decode()
