"""A fleet's dataset, its questions, and scoring it again on local cores."""

import asyncio
import contextlib
import json
import statistics
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from chargeassist.cli.main import main
from chargeassist.model.channels import Quality
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import (
    ChannelDeclared,
    CheckJudged,
    Event,
    Mark,
    MarkKind,
    Reading,
    SessionMode,
    SessionStarted,
    SessionStopped,
    Stage,
)
from chargeassist.qa.archive import Supersedes, make_archive
from chargeassist.qa.fleet_add import AddState, add
from chargeassist.qa.fleet_query import QUESTIONS, FleetReader
from chargeassist.qa.fleet_recompute import score
from chargeassist.qa.fleet_tables import FleetTables, fleet_tables
from chargeassist.qa.many import records_under
from chargeassist.session.record.package import open_record, write_package
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.session.scenario.simulate import run_scenario
from tests.unit.qa.fleets import variant

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture(scope="module")
def dataset(tmp_path_factory: pytest.TempPathFactory, archives: Path) -> str:
    address = str(tmp_path_factory.mktemp("dataset") / "fleet")
    for path in records_under([archives]):
        done = add(path, address, unverified=True)
        assert done.state is AddState.ADDED, done
    return address


@pytest.fixture
def reader(dataset: str) -> Iterator[FleetReader]:
    opened = FleetReader(dataset)
    yield opened
    opened.close()


def test_an_answer_does_not_depend_on_where_it_is_asked(
    dataset: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = "SELECT started, date_trunc('day', started) FROM sessions ORDER BY started"
    answers = []
    for zone in ("UTC", "America/New_York", "Asia/Tokyo"):
        monkeypatch.setenv("TZ", zone)
        if hasattr(time, "tzset"):
            time.tzset()
        with contextlib.closing(FleetReader(dataset)) as opened:
            answers.append([[str(value) for value in row] for row in opened.select(asked).rows])
    monkeypatch.undo()
    if hasattr(time, "tzset"):
        time.tzset()
    assert answers[0] == answers[1] == answers[2]
    assert answers[0][0] == ["2026-01-15 08:00:00+00:00", "2026-01-15 00:00:00+00:00"]


def test_the_steps_of_a_session_are_those_of_its_table(tmp_path: Path, good: list[Event]) -> None:
    began = good[0]
    assert isinstance(began, SessionStarted)
    first = next(e.t for e in good if isinstance(e, Reading)) + 30.0
    marks = (
        Mark(t=first, kind=MarkKind.STAGE_BEGUN, text=Stage.WEIGH_IN.value),
        Mark(t=first + 2.0, kind=MarkKind.STEP_BEGUN),
        Mark(t=first + 5.0, kind=MarkKind.STEP_ENDED, mass_kg=1.9),
        Mark(t=first + 12.0, kind=MarkKind.STAGE_BEGUN, text=Stage.RUN_UP.value),
    )
    place = next(at for at, event in enumerate(good) if event.t > first)
    later = sorted([*good[place:], *marks], key=lambda event: event.t)
    write_package([*good[:place], *later], tmp_path / "p")
    with open_record(tmp_path / "p") as record:
        tables = fleet_tables(record, "").tables
    assert tables["sessions"]["steps"] == [len(tables["steps"]["number"])]
    with open_record(ROOT / "recordings" / "millrace-lane-library") as record:
        without = fleet_tables(record, "").tables
    assert without["sessions"]["steps"] == tables["sessions"]["steps"]


def test_any_engine_reads_the_dataset(dataset: str, charged: list[Event]) -> None:
    # pandas with pyarrow as one that knows Hive partitions.
    sessions = pd.read_parquet(f"{dataset}/sessions")
    assert sorted(sessions["session_id"]) == [f"{n:032x}" for n in range(4)]
    assert {str(d)[:10] for d in sessions["date"]} == {f"2026-0{n}-15" for n in range(1, 5)}
    readings = pd.read_parquet(f"{dataset}/readings")
    mine = readings[readings["session_id"] == f"{0:032x}"]
    expected = sorted((e.channel, e.t, e.value) for e in charged if isinstance(e, Reading))
    assert sorted(zip(mine["channel"], mine["t"], mine["value"], strict=True)) == expected
    assert len(pd.read_parquet(f"{dataset}/events")) == 4 * sum(
        not isinstance(e, Reading) for e in charged
    )


def test_every_named_question_has_an_answer(reader: FleetReader) -> None:
    for name in QUESTIONS:
        answer = reader.ask(name)
        assert answer.columns
        assert answer.rows, name


def test_settle_time_and_gain_are_those_of_the_sessions(reader: FleetReader, dataset: str) -> None:
    steps = pd.read_parquet(f"{dataset}/steps")
    answer = reader.ask("settle-time-by-model")
    (row,) = (dict(zip(answer.columns, r, strict=True)) for r in answer.rows)
    assert row["steps"] == steps["settle_s"].count()
    assert row["median_s"] == pytest.approx(statistics.median(steps["settle_s"].dropna()), abs=0.06)
    answer = reader.ask("gain-by-model")
    (row,) = (dict(zip(answer.columns, r, strict=True)) for r in answer.rows)
    gains = list(steps["gain_k_per_kg"].dropna())
    assert row["median_k_per_kg"] == pytest.approx(statistics.median(gains), abs=6e-4)


def test_a_drifting_probe_is_found(reader: FleetReader) -> None:
    answer = reader.ask("probe-drift")
    rows = [dict(zip(answer.columns, r, strict=True)) for r in answer.rows]
    pair = next(
        r
        for r in rows
        if (r["one_role"], r["other_role"]) == ("liquid_temperature", "suction_temperature")
    )
    # 0.1 K from one month's 15th to the next: 30 days of 90 in which it moved by 0.3 K.
    assert pair["drift"] == pytest.approx(-0.1, abs=0.005)
    assert pair["r2"] > 0.99
    steady = [
        r
        for r in rows
        if "suction_temperature" not in (r["one_role"], r["other_role"]) and r["unit"] == "K"
    ]
    assert steady
    assert all(abs(r["drift"]) < 1e-6 for r in steady)
    assert all(r["r2"] is None for r in steady), "no line explains what never moved"
    moving = [r for r in rows if "suction_temperature" in (r["one_role"], r["other_role"])]
    assert rows[: len(moving)] == moving, "what moves along a line is told first"


@pytest.mark.parametrize(
    "sql",
    [
        "DROP VIEW sessions",
        "COPY (SELECT 1) TO 'x.csv'",
        "SELECT 1; SELECT 2",
        "CREATE TABLE x AS SELECT 1",
        "ATTACH 'x.db'",
        "SET enable_external_access = true",
        "PRAGMA version",
        "INSTALL httpfs",
        "SELECT * FROM read_csv('/etc/hostname')",
        "SELECT * FROM read_text('/etc/hostname')",
        "SELECT nothing FROM sessions",
        "hello",
        "",
    ],
)
def test_free_sql_only_reads(reader: FleetReader, sql: str) -> None:
    with pytest.raises(ConfigError, match=r"expected one SELECT|cannot be answered"):
        reader.select(sql)
    assert reader.select("SELECT count(*) FROM sessions").rows == [(4,)]


def test_adding_again_changes_nothing_and_superseding_replaces(
    tmp_path: Path, charged: list[Event]
) -> None:
    write_package(variant(charged, 0), tmp_path / "p")
    make_archive(tmp_path / "p", tmp_path / "a.zip")
    make_archive(
        tmp_path / "p", tmp_path / "b.zip", supersedes=Supersedes(tmp_path / "a.zip", "why")
    )
    address = str(tmp_path / "fleet")
    assert add(tmp_path / "a.zip", address).state is AddState.ADDED
    assert add(tmp_path / "a.zip", address).state is AddState.THERE
    assert add(tmp_path / "b.zip", address).state is AddState.REPLACED
    assert add(tmp_path / "a.zip", address).state is AddState.OLDER
    data = bytearray((tmp_path / "b.zip").read_bytes())
    data[300] ^= 1
    (tmp_path / "b.zip").write_bytes(data)
    assert add(tmp_path / "b.zip", address).state is AddState.REFUSED


def test_a_session_added_before_its_end_is_replaced_by_the_whole(
    tmp_path: Path, charged: list[Event]
) -> None:
    address = str(tmp_path / "fleet")
    write_package(charged[:2000], tmp_path / "begun")
    write_package(charged, tmp_path / "whole")
    assert add(tmp_path / "begun", address, unverified=True).state is AddState.ADDED
    assert add(tmp_path / "whole", address).state is AddState.REPLACED
    assert add(tmp_path / "whole", address).state is AddState.THERE
    assert add(tmp_path / "begun", address, unverified=True).state is AddState.THERE


def test_an_address_of_another_kind_will_do(archives: Path) -> None:
    address = "memory://fleet"
    for path in records_under([archives])[:2]:
        assert add(path, address, unverified=True).state is AddState.ADDED
    opened = FleetReader(address)
    assert opened.select("SELECT count(*) FROM sessions").rows == [(2,)]
    assert len(opened.ask("readings-by-channel").rows) > 5
    opened.close()
    with pytest.raises(ConfigError, match="expected a folder or an fsspec address"):
        FleetReader("nowhere://x")
    with pytest.raises(ConfigError, match="expected a fleet's dataset"):
        FleetReader("memory://other")


def test_the_commands(
    tmp_path: Path, with_bad: list[Path], capsys: pytest.CaptureFixture[str]
) -> None:
    folder, address = str(with_bad[0].parent), str(tmp_path / "fleet")
    assert main(["fleet", "add", folder, "--to", address, "--cores", "1"]) == 1
    out = capsys.readouterr().out
    assert "bad.zip: refused" in out
    assert "4 added" in out
    assert main(["fleet", "query", address]) == 0
    assert "settle-time-by-model: " in capsys.readouterr().out
    assert main(["fleet", "query", address, "--format", "json"]) == 0
    assert {row["question"] for row in json.loads(capsys.readouterr().out)} == set(QUESTIONS)
    assert main(["fleet", "query", address, "overshoot-by-crew", "--format", "csv"]) == 0
    assert capsys.readouterr().out.startswith("mode,company,certificate,sessions,over,")
    sql = "SELECT session_id, started FROM sessions ORDER BY 1 LIMIT 1"
    assert main(["fleet", "query", address, "--sql", sql, "--format", "json"]) == 0
    assert json.loads(capsys.readouterr().out)[0]["session_id"] == "0" * 32
    assert main(["fleet", "query", address, "how-are-you"]) == 2
    results = str(tmp_path / "r.jsonl")
    assert main(["fleet", "recompute", folder, "--to", results, "--cores", "1"]) == 1
    assert "5 records, 3 differ, 1 could not be read" in capsys.readouterr().out


def test_without_the_extra_the_way_out_is_named(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "fsspec", None)
    monkeypatch.setitem(sys.modules, "duckdb", None)
    assert main(["fleet", "query", str(tmp_path), "gain-by-model"]) == 2
    assert "pip install 'chargeassist[fleet]'" in capsys.readouterr().err


def tables_of(folder: Path, events: list[Event]) -> FleetTables:
    write_package(events, folder)
    with open_record(folder) as record:
        return fleet_tables(record, "")


def test_a_probe_that_fell_silent_or_was_only_remembered_says_nothing_of_the_end(
    tmp_path: Path, charged: list[Event]
) -> None:
    end = charged[-1].t
    changed: list[Event] = []
    for event in charged[:-1]:
        if isinstance(event, Reading):
            if event.channel == "suction_temperature" and event.t > end - 300.0:
                continue
            if event.channel == "liquid_temperature" and event.t > end - 60.0:
                event = replace(event, value=400.0, quality=Quality.RETAINED)
        changed.append(event)
    stopped = charged[-1]
    assert isinstance(stopped, SessionStopped)
    channels = tables_of(tmp_path / "a", [*changed, stopped]).tables["channels"]
    at_end = dict(zip(channels["channel"], channels["at_end"], strict=True))
    highest = dict(zip(channels["channel"], channels["highest"], strict=True))
    assert at_end["suction_temperature"] is None
    assert highest["liquid_temperature"] < 350.0
    expected = [
        e.value
        for e in charged
        if isinstance(e, Reading)
        and e.channel == "liquid_temperature"
        and end - 120.0 <= e.t <= end - 60.0
    ]
    assert at_end["liquid_temperature"] == pytest.approx(statistics.fmean(expected))


def test_too_much_charge_is_over_whatever_it_is_judged_by(tmp_path: Path) -> None:
    # Behind a fixed orifice superheat falls as refrigerant is added.
    events = asyncio.run(run_scenario(find_scenario("fixed-orifice", Path())))
    sessions = tables_of(tmp_path / "a", list(events)).tables["sessions"]
    (settled,), (target,) = sessions["settled_k"], sessions["target_k"]
    (tolerance,), (over,) = sessions["tolerance_k"], sessions["over_k"]
    assert settled > target
    assert over == pytest.approx(target - tolerance - settled)
    assert over < -tolerance


def test_a_unit_stopped_after_its_final_reading_has_a_settled_value(
    tmp_path: Path, good: list[Event]
) -> None:
    stopped = good[-1]
    assert isinstance(stopped, SessionStopped)
    close_out = Mark(t=stopped.t, kind=MarkKind.STAGE_BEGUN, text=Stage.CLOSE_OUT.value)
    later = [*good[:-1], close_out, replace(stopped, t=stopped.t + 120.0)]
    tables = tables_of(tmp_path / "a", later)
    (settled,), (over,) = (
        tables.tables["sessions"]["settled_k"],
        tables.tables["sessions"]["over_k"],
    )
    held = next(e for e in good if isinstance(e, CheckJudged) and e.cause == "final_held")
    assert settled == held.figures["subcooling_k"]
    high_k = held.figures["target_k"] + held.figures["tolerance_k"]
    assert over == pytest.approx(settled - high_k)
    assert score(tmp_path / "a")["settled_k"] == settled


@pytest.fixture
def two_modes(tmp_path: Path, charged: list[Event]) -> Iterator[FleetReader]:
    """Three sessions in the field and one simulated, in a folder whose name is a pattern, too.

    One of the pressure probes is absolute.
    """
    address = tmp_path / "fleet [old] *?"
    for number in range(4):
        events = [
            replace(event, channel=replace(event.channel, unit="psia", reference=None))
            if isinstance(event, ChannelDeclared) and event.channel.name == "suction_pressure"
            else event
            for event in variant(charged, number)
        ]
        started = events[0]
        assert isinstance(started, SessionStarted)
        if number < 3:
            events[0] = replace(started, mode=SessionMode.FIELD)
        write_package(events, tmp_path / f"{number}")
        assert add(tmp_path / f"{number}", str(address)).state is AddState.ADDED
    opened = FleetReader(str(address))
    yield opened
    opened.close()


def test_what_was_simulated_is_not_mixed_with_the_field(two_modes: FleetReader) -> None:
    assert two_modes.select("SELECT count(*) FROM sessions").rows == [(4,)]
    for name in QUESTIONS:
        answer = two_modes.ask(name)
        assert answer.columns[0] == "mode"
        modes = {row[0] for row in answer.rows}
        # Of one session alone nothing is said about a drift.
        assert modes == ({"field"} if name == "probe-drift" else {"field", "simulated"}), name


def test_a_gauge_pressure_is_not_compared_with_an_absolute_one(two_modes: FleetReader) -> None:
    answer = two_modes.ask("probe-drift")
    pairs = [dict(zip(answer.columns, row, strict=True)) for row in answer.rows]
    assert pairs
    assert not [pair for pair in pairs if pair["quantity"] == "pressure"]


def test_an_answer_is_json_whatever_was_asked(
    dataset: str, capsys: pytest.CaptureFixture[str]
) -> None:
    sql = (
        "SELECT 1 AS a, 2 AS a, 'x' AS a_2, 'nan'::DOUBLE AS n, 1.5 AS d, ['inf'::DOUBLE, 2] AS l, "
        "MAP {DATE '2026-01-02': 'nan'::DOUBLE} AS m"
    )
    assert main(["fleet", "query", dataset, "--sql", sql, "--format", "json"]) == 0

    def refused(word: str) -> None:
        raise AssertionError(f"{word} is not JSON (RFC 8259, section 6)")

    (row,) = json.loads(capsys.readouterr().out, parse_constant=refused)
    assert row == {
        "a": 1,
        "a_3": 2,
        "a_2": "x",
        "n": None,
        "d": 1.5,
        "l": [None, 2.0],
        "m": {"2026-01-02": None},
    }
