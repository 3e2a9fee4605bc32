"""Logs of other programs in, tables for other programs out."""

import csv
import shutil
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from chargeassist.cli.main import main
from chargeassist.model.channels import RECORDED_DECIMALS
from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.events import (
    BadInput,
    Mark,
    Outcome,
    Reading,
    SessionMode,
    SessionStarted,
    SessionStopped,
    StepRecorded,
)
from chargeassist.model.units import Quantity, find_unit
from chargeassist.qa.export import export, fewest_decimals
from chargeassist.qa.import_log import import_log
from chargeassist.qa.log_text import decoded, elapsed_s, moment, number, read_table, zone_of
from chargeassist.qa.recompute import compare
from chargeassist.qa.rescore import rescore
from chargeassist.session.record.package import open_record, write_package
from tests.unit.qa.logs import JOB, PROBES, imported, readings

RECORDING = Path(__file__).resolve().parents[3] / "recordings" / "millrace-lane-library"


# The SI values below: 250 psi = 1723689.32 Pa (1 psi = 6894.757293168361 Pa, NIST SP 811),
# 31.5 °C = 304.65 K, 88.7 °F = 304.65 K.
EXPECTED = [
    (0.0, "liquid_pressure", 1723689.32),
    (0.0, "liquid_temperature", 304.65),
    (1.0, "liquid_pressure", 1724378.8),
    (1.0, "liquid_temperature", 304.65),
]


@pytest.mark.parametrize(
    "log",
    [
        "Time,P liquid (psi),T liquid (°C)\n"
        "2026-05-04T08:10:00Z,250,31.5\n2026-05-04T08:10:01Z,250.1,31.5\n",
        # Semicolons and decimal commas, units in brackets, an offset.
        "Time;P liquid [psi];T liquid [°F]\n"
        "2026-05-04 10:10:00+02:00;250,0;88,7\n2026-05-04 10:10:01+02:00;250,1;88,7\n",
        # Tabs, comments, a line of units, carriage returns.
        "# logger 7\r\nTime\tP liquid\tT liquid\r\n\t(psi)\t(°C)\r\n"
        "2026-05-04T08:10:00+00:00\t250\t31.5\r\n\r\n2026-05-04T08:10:01+00:00\t250.1\t31.5\r\n",
        # Unit after an underscore, after a slash; quoted cells.
        '"Time","P liquid_psi","T liquid / °C"\n'
        '"2026-05-04T08:10:00Z","250","31.5"\n"2026-05-04T08:10:01Z","250.1","31.5"\n',
    ],
    ids=["commas", "semicolons", "tabs", "quotes"],
)
def test_files_of_many_forms_say_the_same(tmp_path: Path, log: str) -> None:
    events = imported(tmp_path, log)
    assert readings(events) == EXPECTED
    started = events[0]
    assert isinstance(started, SessionStarted)
    assert started.started_utc == "2026-05-04T08:10:00.000+00:00"
    assert started.mode is SessionMode.FIELD
    last = events[-1]
    assert isinstance(last, SessionStopped)
    assert last.outcome is Outcome.ABANDONED
    assert last.counts == {"liquid_pressure": 2, "liquid_temperature": 2}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252", "latin-1"])
def test_encodings_are_told_apart(tmp_path: Path, encoding: str) -> None:
    log = "Time;P liquid (psi);T liquid (°C)\n2026-05-04T08:10:00Z;250,0;31,5\n"
    assert readings(imported(tmp_path, log.encode(encoding))) == EXPECTED[:2]


@pytest.mark.parametrize(
    ("times", "unit"),
    [
        (("0", "1"), "s"),
        (("500.0", "501.0"), "s"),
        (("0", "1000"), "ms"),
        (("0:00:00", "0:00:01"), ""),
        (("12:30.5", "12:31.5"), ""),
    ],
)
def test_elapsed_time_needs_a_beginning(tmp_path: Path, times: tuple[str, str], unit: str) -> None:
    head = f"Time ({unit})" if unit else "Time"
    log = f"{head},P liquid (psi),T liquid (°C)\n{times[0]},250,31.5\n{times[1]},250.1,31.5\n"
    with pytest.raises(ConfigError, match="expected when the log began"):
        imported(tmp_path, log)
    events = imported(tmp_path, log, 'started = "2026-05-04T08:10:00Z"')
    found = readings(events)
    assert [v for _, _, v in found] == [v for _, _, v in EXPECTED]
    assert found[2][0] - found[0][0] == pytest.approx(1.0, abs=1e-9)


def test_nothing_is_left_out_in_silence(tmp_path: Path) -> None:
    log = (
        "Time,P liquid (psi),T liquid (°C)\n"
        "2026-05-04T08:10:00Z,250,31.5\n"
        "2026-05-04T08:10:01Z,---,31.5\n"
        "2026-05-04T08:10:02Z,2 5 0,31.5\n"
        "soon,250,31.5\n"
        "2026-05-04T08:09:59Z,250,31.5\n"
        "2026-05-04T08:10:03Z,9.91e37\n"
    )
    events = imported(tmp_path, log)
    faults = [e.reason for e in events if isinstance(e, BadInput)]
    assert len(faults) == 4
    assert faults[0].startswith("line 4, liquid_pressure: expected a number")
    assert faults[1].startswith("line 5: no time")
    assert faults[2] == "line 6: time goes back by 3 s"
    assert faults[3].startswith("line 7, liquid_pressure: no reading (not a number")
    back = [e for e in events if isinstance(e, Reading) and e.device_time is not None]
    assert [(e.t, e.device_time) for e in back] == [(2.0, -1.0), (2.0, -1.0)]
    assert [e.t for e in events] == sorted(e.t for e in events)


def test_what_an_instrument_sends_without_a_sensor_is_no_reading(tmp_path: Path) -> None:
    rows = "".join(f"2026-05-04T10:00:{n:02}Z,250,{t}\n" for n, t in enumerate(("31.2", "-999")))
    events = imported(tmp_path, "Time,P liquid (psig),T liquid (°C)\n" + rows)
    assert [value for _, name, value in readings(events) if name == "liquid_temperature"] == [
        304.35
    ]
    (fault,) = [e for e in events if isinstance(e, BadInput)]
    assert "-999 is below absolute zero" in fault.reason


def test_what_was_done_is_told_beside_the_log(tmp_path: Path) -> None:
    rows = "".join(f"2026-05-04T08:{10 + i // 60:02d}:{i % 60:02d}Z,250,31.5\n" for i in range(300))
    script = """
[[script]]
at = "60 s"
do = "open the valve"
[[script]]
at = "75 s"
do = "shut the valve"
mass = "85 g"
"""
    log = "Time,P liquid (psi),T liquid (°C)\n" + rows
    events = imported(tmp_path, log, rest=PROBES + script)
    assert [e.t for e in events if isinstance(e, Mark)] == [60.0, 75.0]
    assert [e.mass_kg for e in events if isinstance(e, StepRecorded)] == [0.085]
    write_package(events, tmp_path / "record")
    with open_record(tmp_path / "record") as record:
        assert record.verify().ok
        assert compare(rescore(record)).differences == ()


@pytest.mark.parametrize(
    ("log", "top", "rest", "said"),
    [
        ("", "", PROBES, "expected a header line"),
        ("a\n1\n", "", PROBES, "at least two columns"),
        ("Time,x\n1,2\n", "", PROBES, "probe.1..select: expected a column of the log"),
        ("Time,P liquid,T liquid (°C)\n", "", PROBES, "expected rows with a time"),
        ("Time,P liquid,T liquid\nx,1,2\n", "", PROBES, "unit: expected one, for the header"),
        ("Time,P liquid,T liquid (furlong)\nx,1,2\n", "", PROBES, "is not a unit of temperature"),
        ("Time,P liquid\n", "encoding = 'ebcdic'", PROBES, "encoding"),
        (
            "Time,P liquid (psig),T liquid (°C)\n2026-05-04 10:12:00,1,2\n",
            "",
            PROBES.replace('"Time"', '"Time"\nform = "%Y-%m-%d %H:%m:%S"'),
            "time.form",
        ),
        ("Time,P liquid\n", "color = 'red'", "[time]\ncolumn='Time'", "at least one"),
    ],
)
def test_a_log_or_map_that_cannot_be_used_is_named(
    tmp_path: Path, log: str, top: str, rest: str, said: str
) -> None:
    with pytest.raises(ConfigError, match=said):
        imported(tmp_path, log, top, rest)


def test_numbers_and_times_are_read_strictly() -> None:
    for text in ("1,000.5", "1.000,5", "1 000", "0x10", "1_0", "", "inf", "nan", "\u0661"):
        for decimal in ".,":
            with pytest.raises(ValueError, match="expected a number"):
                number(text, decimal)
    assert number("-1,5e3", ",") == -1500.0
    with pytest.raises(ValueError, match="expected elapsed time in"):
        elapsed_s("3", "fortnight", ".")
    assert elapsed_s("1:02:03,5", "", ",") == 3723.5
    assert moment("2026-05-04T10:10:00+02:00", "", None).hour == 8
    assert zone_of("") is None
    assert read_table("a,b\n1.5,2\n").decimal == "."
    with pytest.raises(ConfigError, match="expected text in"):
        decoded(b"\x00\x01\x02\x03")


def test_csv_out_and_in_again_is_the_same(tmp_path: Path, session_file: Path) -> None:
    with open_record(session_file) as record:
        count = export(record, tmp_path / "out.csv")
        first = [e for e in record.events() if isinstance(e, Reading)]
        assert count == len(first)
        probes = "".join(
            f'[[probe]]\nrole = "{c.role}"\nselect = "{c.name}"\nunit = "{c.unit}"\n'
            for c in record.channels
        )
    (tmp_path / "map.toml").write_text(
        f'[time]\ncolumn = "time_utc"\n{probes}\n{JOB}', encoding="utf-8"
    )
    again = readings(list(import_log(tmp_path / "out.csv", tmp_path / "map.toml")))
    assert len(again) == len(first)
    key = lambda e: (round(e[0], 3), e[1])  # noqa: E731
    offset = first[0].t
    before = sorted(((e.t - offset, e.channel, e.value) for e in first), key=key)
    for (t, name, value), (t2, name2, value2) in zip(before, sorted(again, key=key), strict=True):
        assert name == name2
        assert t2 == pytest.approx(t, abs=2e-3)
        assert value2 == pytest.approx(value, rel=2e-6, abs=2e-3)


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_a_record_that_breaks_off_leaves_no_table(
    tmp_path: Path, session_file: Path, ending: str
) -> None:
    with open_record(session_file) as record:
        write_package(record.events(), tmp_path / "p")
    lines = (tmp_path / "p" / "readings.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "p" / "readings.csv").write_text("\n".join(lines[:-9]), encoding="utf-8")
    with (
        open_record(tmp_path / "p") as record,
        pytest.raises(RecordError, match=r"row \d+ expected"),
    ):
        export(record, tmp_path / f"out.{ending}")
    assert [path.name for path in tmp_path.iterdir()] == ["p"]


def test_pandas_reads_what_is_exported(tmp_path: Path, session_file: Path) -> None:
    # pandas and pyarrow, independent readers of both forms.
    with open_record(session_file) as record:
        count = export(record, tmp_path / "out.csv")
        assert export(record, tmp_path / "out.parquet") == count
        expected = [(e.t, e.channel, e.value) for e in record.events() if isinstance(e, Reading)]
    wide = pd.read_csv(tmp_path / "out.csv")
    assert int(wide.iloc[:, 2:].count().sum()) == count
    assert "liquid_pressure (psig)" in wide.columns
    assert {len(text) for text in wide["time_utc"]} == {len("2026-05-04T08:10:00.000+00:00")}
    long = pd.read_parquet(tmp_path / "out.parquet")
    assert list(zip(long["t"], long["channel"], long["value"], strict=True)) == expected
    pressures = long[long["channel"] == "liquid_pressure"]
    assert set(pressures["unit"]) == {"Pa"}
    # What 2.4 MPa are counted from makes a difference of 0.1 MPa.
    assert set(pressures["counted_from"]) == {"gauge"}
    assert long[long["channel"] == "liquid_temperature"]["counted_from"].isna().all()


@pytest.mark.parametrize(
    ("unit", "quantity", "sent"),
    [
        ("oz", Quantity.MASS, (320.0, 319.9, 0.1, 1600.35)),
        ("lb", Quantity.MASS, (20.0, 19.985)),
        ("g", Quantity.MASS, (9071.0, 9071.5)),
        ("psig", Quantity.PRESSURE, (248.1, 0.3, 400.0, 99.95)),
        ("micron", Quantity.PRESSURE, (500.0, 251.0, 12.0)),
        ("inHg vac", Quantity.PRESSURE, (29.9, 0.05)),
        ("MPag", Quantity.PRESSURE, (1.7106, 1.710563)),
        ("°F", Quantity.TEMPERATURE, (87.3, -0.1, 32.0, 0.0)),
        ("°C", Quantity.TEMPERATURE, (31.2, -12.35, 0.0)),
        ("%", Quantity.FRACTION, (51.3,)),
    ],
)
def test_the_export_shows_what_the_probe_sent(
    unit: str, quantity: Quantity, sent: tuple[float, ...]
) -> None:
    # The record keeps SI values to RECORDED_DECIMALS: 320 oz is 9.0718474 kg, kept as 9.07185 kg.
    told = find_unit(unit, quantity)
    for value in sent:
        kept = round(told.to_si(value), RECORDED_DECIMALS[quantity])
        assert repr(fewest_decimals(kept, told)) == repr(value)


def test_what_is_exported_is_what_is_recorded(tmp_path: Path, session_file: Path) -> None:
    # pandas reads the table; the unit in the header leads back to the record's own SI value.
    with open_record(session_file) as record:
        export(record, tmp_path / "out.csv")
        kept = [(e.t, e.channel, e.value) for e in record.events() if isinstance(e, Reading)]
        channels = {c.name: c for c in record.channels}
    table = pd.read_csv(tmp_path / "out.csv", parse_dates=["time_utc"])
    assert str(table["time_utc"].dt.tz) == "UTC"
    assert all(kind == "float64" for kind in table.dtypes.iloc[1:])
    back = []
    for column in table.columns[2:]:
        name, _, unit = column.partition(" (")
        quantity = channels[name].quantity
        told = find_unit(unit.removesuffix(")"), quantity)
        for t, value in table[["elapsed (s)", column]].dropna().itertuples(index=False):
            back.append((t, name, round(told.to_si(value), RECORDED_DECIMALS[quantity])))
    assert sorted(back) == sorted(kept)


def test_the_commands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    imported(tmp_path, "Time,P liquid (psi),T liquid (°C)\n2026-05-04T08:10:00Z,2 5,31.5\n")
    command = ["import", str(tmp_path / "log.csv"), "--map", str(tmp_path / "map.toml")]
    assert main([*command, "--to", str(tmp_path / "r")]) == 0
    assert "1 readings" in capsys.readouterr().out
    assert main([*command, "--to", str(tmp_path / "r")]) == 2
    out = tmp_path / "x.csv"
    assert main(["export", str(tmp_path / "r"), "--to", str(out)]) == 0
    with out.open(encoding="utf-8", newline="") as file:
        assert len(list(csv.reader(file))) == 2
    assert main(["export", str(tmp_path / "r"), "--to", str(out)]) == 2
    assert main(["export", str(tmp_path / "r"), "--to", str(tmp_path / "x.xls")]) == 2


@pytest.mark.parametrize("ending", [".csv", ".parquet"])
def test_a_reading_that_was_never_declared_is_named(tmp_path: Path, ending: str) -> None:
    folder = tmp_path / "record"
    shutil.copytree(RECORDING, folder)
    path = folder / "readings.csv"
    path.write_text(path.read_text().replace(",liquid_pressure,", ",ghost,", 1))
    with open_record(folder) as record, pytest.raises(RecordError, match=r"'ghost'.*not declared"):
        export(record, tmp_path / f"out{ending}")
    assert not (tmp_path / f"out{ending}").exists()


def test_times_beyond_the_calendar_are_left_out(tmp_path: Path) -> None:
    with open_record(RECORDING) as record:
        events = [e for e in record.events() if not isinstance(e, SessionStopped)]
    late = next(e for e in events if isinstance(e, Reading))
    for begun in ("2026-05-04T08:00:00+00:00", "0001-01-01T00:00:00+14:00"):
        first = replace(events[0], started_utc=begun)  # type: ignore[arg-type]
        folder = tmp_path / begun[:4]
        write_package([first, *events[1:], replace(late, t=1e15)], folder)
        with open_record(folder) as record:
            export(record, tmp_path / f"{begun[:4]}.csv")
        assert (tmp_path / f"{begun[:4]}.csv").read_text().splitlines()[-1].startswith(",1000000")
