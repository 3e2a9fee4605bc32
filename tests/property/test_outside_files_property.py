"""Any bytes in a file of a logger, trainer, signer or stopped run: read, or refused by name."""

import json
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chargeassist.model.errors import ChargeAssistError, ConfigError, RecordError
from chargeassist.model.events import (
    SessionStopped,
)
from chargeassist.qa.fleet_recompute import _done_before
from chargeassist.qa.import_log import import_log
from chargeassist.qa.seal import check_seal
from chargeassist.qa.sshsig import public_of_line, signer_of
from chargeassist.trainer.calls import read_calls
from chargeassist.trainer.result import read_result
from chargeassist.trainer.sidecar import Sidecar, sidecar_path
from tests.property.short_session import ODD

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
        ODD, lambda x: st.dictionaries(st.text(max_size=5), x, max_size=3), max_leaves=5
    ).map(lambda tree: json.dumps(tree, default=str).encode()),
    st.sampled_from([b"[" * 3000, b'{"format":' * 3000, b"9" * 5000, b'"\\ud800"']),
)


@given(
    raw=json_bytes, extra=st.dictionaries(st.sampled_from(["format", "session_id", "entries"]), ODD)
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
