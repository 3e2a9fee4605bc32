"""Any bytes in a file that came from outside: read, or refused by name; nothing else comes out.

Packages and session files are changed where they say something, so that most examples get past the
first look. That a change is *found* is shown in ``test_tampering_property``.
"""

import csv
import io
import json
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chargeassist.model.channels import Channel, Role
from chargeassist.model.errors import ChargeAssistError, ConfigError, RecordError
from chargeassist.model.events import (
    ChannelDeclared,
    Event,
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionMode,
    SessionStarted,
    SessionStopped,
)
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.model.units import Reference
from chargeassist.qa.archive import make_archive
from chargeassist.qa.fleet_recompute import _done_before, score
from chargeassist.qa.import_log import import_log
from chargeassist.qa.seal import check_seal
from chargeassist.qa.sshsig import public_of_line, signer_of
from chargeassist.qa.verify import verify
from chargeassist.session.record.codec import job_from_json, job_to_json
from chargeassist.session.record.package import open_record, write_package
from chargeassist.session.record.store import SessionWriter
from chargeassist.trainer.calls import read_calls
from chargeassist.trainer.result import read_result
from chargeassist.trainer.sidecar import Sidecar, sidecar_path

QUIET = settings(
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)


def session_events() -> list[Event]:
    job = Job(
        name="invented",
        refrigerant="R-32",
        target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
        charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11, weighed_in_kg=1.9),
        site=Site(altitude_m=0.0),
    )
    channel = Channel(
        name="p", role=Role.LIQUID_PRESSURE, unit="psig", reference=Reference.GAUGE, source="s"
    )
    return [
        SessionStarted(
            t=0.0,
            session_id="a" * 32,
            started_utc="2026-05-04T08:15:00.000+00:00",
            software="invented",
            table_hash="0" * 64,
            mode=SessionMode.FIELD,
            job=job_to_json(job),
        ),
        ChannelDeclared(t=0.0, channel=channel),
        *(Reading(t=float(t), channel="p", value=2.3e6 + t) for t in range(1, 20)),
        Mark(t=20.0, kind=MarkKind.STEP_ENDED, mass_kg=0.11),
        SessionStopped(t=21.0, outcome=Outcome.COMPLETE, counts={"p": 19}),
    ]


@pytest.fixture(scope="module")
def originals(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """A session file, its archive as a ZIP, and each file of its archive."""
    folder = tmp_path_factory.mktemp("originals")
    made = session_events()
    writer = SessionWriter.create(folder / "a.session", made[0])  # type: ignore[arg-type]
    for number, event in enumerate(made[1:-1]):
        writer.append(event)
        if number % 8 == 7:
            writer.commit()
    writer.close(made[-1])  # type: ignore[arg-type]
    for name in ("a", "a.zip"):
        make_archive(folder / "a.session", folder / name)
    found = {path.name: path.read_bytes() for path in (folder / "a").iterdir()}
    for name in ("a.session", "a.zip"):
        found[name] = (folder / name).read_bytes()
    return found


def judge(path: Path) -> None:
    """Read `path` in every way records are read; only errors of this program may come out."""
    found = verify(path)
    assert isinstance(found.problems, tuple)
    line = score(path)
    assert "error" not in line or line["error"].startswith("Record"), line["error"]
    try:
        with open_record(path) as record:
            _ = (record.channels, record.counts, record.stopped, record.chain_head, record.job)
            for _ in record.events():
                pass
            for _ in record.runs():
                pass
    except RecordError:
        return


@pytest.fixture
def place() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as name:
        yield Path(name)


@QUIET
@given(data=st.data())
def test_any_bytes_in_a_session_file(originals: dict[str, bytes], data: st.DataObject) -> None:
    good = bytearray(originals["a.session"])
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(good) - 1))
        new = data.draw(st.binary(min_size=1, max_size=8))
        good[at : at + len(new)] = new
    if data.draw(st.booleans()):
        del good[data.draw(st.integers(0, len(good))) :]
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "a.session"
        path.write_bytes(good)
        judge(path)


NUMBERS: tuple[object, ...] = (
    0,
    -1,
    1e-300,
    1e-9,
    1e9,
    1e300,
    -1e300,
    1e308,
    5e-324,
    None,
    "x",
    [],
    3,
    0.5,
)


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_any_numbers_in_the_job_of_a_record(data: st.DataObject) -> None:
    """No period that ticks for years, no plate that overflows what is computed from it."""
    made = session_events()
    started = made[0]
    assert isinstance(started, SessionStarted)
    tree = json.loads(started.job)
    chosen = data.draw(st.sampled_from([path for path in paths_of(tree) if len(path) > 1]))
    inner = tree
    for key in chosen[:-1]:
        inner = inner[key]
    inner[chosen[-1]] = data.draw(st.sampled_from(NUMBERS))
    try:
        job = job_to_json(job_from_json(json.dumps(tree)))
    except RecordError:
        return
    with tempfile.TemporaryDirectory() as name:
        write_package([replace(started, job=job), *made[1:]], Path(name) / "p")
        judge(Path(name) / "p")


odd = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=8),
    st.sampled_from(["../x", "/etc/passwd", "events.csv", [], {}, [[]], -1, 10**30, "x" * 1000]),
)


def paths_of(tree: object, prefix: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    found = [prefix] if prefix else []
    items: list[tuple[str | int, object]] = []
    if isinstance(tree, dict):
        items = list(tree.items())
    elif isinstance(tree, list):
        items = list(enumerate(tree))
    for key, value in items:
        found += paths_of(value, (*prefix, key))
    return found


def package_at(folder: Path, originals: dict[str, bytes], **changed: bytes) -> Path:
    for name, data in originals.items():
        if name not in ("a.session", "a.zip"):
            (folder / name).write_bytes(changed.get(name.partition(".")[0], data))
    return folder


@QUIET
@given(data=st.data())
def test_any_descriptor_of_a_package(originals: dict[str, bytes], data: st.DataObject) -> None:
    tree = json.loads(originals["datapackage.json"])
    for _ in range(data.draw(st.integers(1, 3))):
        chosen = data.draw(st.sampled_from(paths_of(tree)))
        inner = tree
        for key in chosen[:-1]:
            inner = inner[key]
        if data.draw(st.booleans()):
            inner[chosen[-1]] = data.draw(odd)
        else:
            del inner[chosen[-1]]
        if not tree:
            break
    with tempfile.TemporaryDirectory() as name:
        text = json.dumps(tree).encode()
        judge(package_at(Path(name), originals, datapackage=text))


@QUIET
@given(
    data=st.data(), table=st.sampled_from(["events", "readings", "channels", "commits", "limits"])
)
def test_any_table_of_a_package(
    originals: dict[str, bytes], data: st.DataObject, table: str
) -> None:
    rows = list(csv.reader(io.StringIO(originals[f"{table}.csv"].decode())))
    for _ in range(data.draw(st.integers(1, 3))):
        row = rows[data.draw(st.integers(0, len(rows) - 1))]
        if row:
            at = data.draw(st.integers(0, len(row) - 1))
            row[at] = data.draw(
                st.one_of(
                    st.text(max_size=10),
                    st.floats().map(repr),
                    st.integers().map(str),
                    st.sampled_from(
                        ["", "1e999", "nan", "9" * 400, "{", '{"a": NaN}', "\0", "x" * 2000]
                    ),
                )
            )
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    raw = text.getvalue().encode("utf-8", "surrogatepass")
    if data.draw(st.booleans()):
        at = data.draw(st.integers(0, len(raw)))
        raw = raw[:at] + data.draw(st.binary(max_size=4)) + raw[at:]
    with tempfile.TemporaryDirectory() as name:
        judge(package_at(Path(name), originals, **{table: raw}))


@QUIET
@given(data=st.data())
def test_any_bytes_in_a_zip(originals: dict[str, bytes], data: st.DataObject) -> None:
    good = bytearray(originals["a.zip"])
    for _ in range(data.draw(st.integers(1, 4))):
        # Half of them in the directory at the end, where the names and sizes stand.
        low = len(good) - 1200 if data.draw(st.booleans()) else 0
        at = data.draw(st.integers(low, len(good) - 1))
        new = data.draw(st.binary(min_size=1, max_size=4))
        good[at : at + len(new)] = new
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "a.zip"
        path.write_bytes(good)
        judge(path)


cell = st.one_of(
    st.floats().map(repr),
    st.sampled_from(
        [
            *(
                "Time",
                "P liquid (psi)",
                "T (°C)",
                "2026-05-04T08:10:00Z",
                "2026-05-04 10:10",
                "0:01:02",
            ),
            *("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "9" * 400 + ":00:00"),
            *(
                "",
                '"',
                "'",
                "#",
                "//",
                "1e999",
                "35,2",
                "-",
                "OL",
                "\x1b[2J",
                "x(" * 140,
                "٣",
                "\x85",
            ),
        ]
    ),
    st.text(max_size=6),
)
log_text = st.builds(
    lambda rows, mark, end: end.join(mark.join(row) for row in rows),
    st.lists(st.lists(cell, max_size=4), max_size=6),
    st.sampled_from([",", ";", "\t", "|"]),
    st.sampled_from(["\n", "\r\n", "\r"]),
)
STARTED_LOG = "Time,P liquid (psi),T liquid (°C)\n2026-05-04T08:10:00Z,250,31.5\n"
MAPS = (
    '[time]\ncolumn = "Time"\n[[probe]]\nrole = "liquid_pressure"\nselect = "2"\nunit = "psig"\n',
    'started = "2026-05-04T08:10:00Z"\n[time]\ncolumn = "1"\nform = "elapsed"\n'
    '[[probe]]\nrole = "liquid_pressure"\nselect = "2"\nunit = "psig"\n',
    'zone = "Europe/Paris"\n[time]\ncolumns = ["1", "2"]\nform = "%d %H"\n'
    '[[probe]]\nrole = "liquid_temperature"\nselect = "3"\nunit = "°C"\n',
)
JOB = """
[job]
name = "invented"
refrigerant = "R-32"
site = { altitude = "0 m" }
target = { subcooling = "5 K", tolerance = "1 K", source = "invented" }
charge = { plate = "2 kg", step_cap = "100 g" }
"""


@settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow])
@given(
    raw=st.one_of(
        log_text.map(lambda t: (STARTED_LOG + t).encode("utf-8", "surrogatepass")),
        log_text.map(lambda t: t.encode("utf-8", "surrogatepass")),
        log_text.map(lambda t: t.encode("utf-16", "surrogatepass")),
        st.binary(max_size=200),
    ),
    chosen=st.sampled_from(MAPS),
)
def test_any_log_of_a_logger(raw: bytes, chosen: str) -> None:
    with tempfile.TemporaryDirectory() as name:
        log, mapped = Path(name) / "log.csv", Path(name) / "map.toml"
        log.write_bytes(raw)
        mapped.write_text(chosen + JOB, encoding="utf-8")
        try:
            events = list(import_log(log, mapped))
        except ConfigError:
            return
        assert isinstance(events[-1], SessionStopped)
        times = [event.t for event in events]
        assert all(t >= 0.0 for t in times)


json_bytes = st.one_of(
    st.binary(max_size=60),
    st.recursive(
        odd, lambda x: st.dictionaries(st.text(max_size=5), x, max_size=3), max_leaves=5
    ).map(lambda tree: json.dumps(tree, default=str).encode()),
    st.sampled_from([b"[" * 3000, b'{"format":' * 3000, b"9" * 5000, b'"\\ud800"']),
)


@given(
    raw=json_bytes, extra=st.dictionaries(st.sampled_from(["format", "session_id", "entries"]), odd)
)
def test_any_notes_and_results_of_a_trainer(raw: bytes, extra: dict[str, object]) -> None:
    with tempfile.TemporaryDirectory() as name:
        recording = Path(name) / "a"
        for data in (raw, json.dumps(extra).encode()):
            sidecar_path(recording).write_bytes(data)
            (Path(name) / "a.drill.json").write_bytes(data)
            with pytest.raises(RecordError):
                Sidecar(recording, "a" * 32)
            with pytest.raises(RecordError):
                read_result(Path(name) / "a.drill.json")


call = st.one_of(
    st.text(max_size=20),
    st.builds(
        "{} {} {}".format,
        st.sampled_from(
            ["6:40", "+15 s", "9" * 400 + ":00", "1e9 h", "٣ s", "+0 s", "1:00:00", ""]
        ),
        st.sampled_from(["settled", "add", "recover", "stop", "fix:", "fix", ""]),
        st.sampled_from(["", "100 g", "-1 kg", "1e999 kg", "restriction", "x" * 4000, "NaN g"]),
    ),
)


@settings(max_examples=200)
@given(lines=st.lists(call, max_size=5))
def test_any_calls_of_a_drill(lines: list[str]) -> None:
    try:
        found = read_calls(lines, "calls")
    except ConfigError:
        return
    assert all(0.0 <= each.t < 1e6 for each in found)


@given(
    text=st.one_of(st.text(), st.binary().map(lambda b: b.decode("latin-1"))),
    cut=st.integers(0, 300),
)
def test_any_signature_or_key(text: str, cut: int) -> None:
    signature = "-----BEGIN SSH SIGNATURE-----\nU1NIU0lHAAAAAQAAADM\n-----END SSH SIGNATURE-----\n"
    for each in (text, signature[:cut] + text, signature):
        with pytest.raises(RecordError):
            signer_of(b"x", each)
        with pytest.raises(RecordError):
            public_of_line(each)


@given(sums=st.binary(max_size=200), key=st.binary(max_size=80), signature=st.binary(max_size=80))
def test_any_seal(sums: bytes, key: bytes, signature: bytes) -> None:
    with tempfile.TemporaryDirectory() as name:
        for file, data in (
            ("SHA256SUMS", sums),
            ("signer.pub", key),
            ("SHA256SUMS.sig", signature),
        ):
            (Path(name) / file).write_bytes(data)
        found = check_seal(Path(name))
        assert found.problems
        assert found.signer is None


@given(lines=st.lists(json_bytes, max_size=4))
def test_any_rest_of_a_stopped_run(lines: list[bytes]) -> None:
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "scores.jsonl.partial"
        path.write_bytes(b"\n".join(lines))
        try:
            _done_before(path)
        except ChargeAssistError:
            return
