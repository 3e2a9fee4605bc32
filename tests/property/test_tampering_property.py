"""Thousands of ways to tamper with an archive, each of which has to be found."""

import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chargeassist.model.channels import Channel, Role
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
    StepRecorded,
)
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.qa.archive import Signer, make_archive
from chargeassist.qa.keys import new_key, private_key
from chargeassist.qa.verify import verify
from chargeassist.session.record.codec import job_to_json
from chargeassist.session.record.store import SessionWriter

READINGS = 40


def events() -> list[Event]:
    job = Job(
        name="invented",
        refrigerant="R-32",
        target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
        charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11),
        site=Site(altitude_m=0.0),
    )
    channel = Channel(name="liquid_p", role=Role.LIQUID_PRESSURE, unit="psig")
    readings = [
        Reading(t=i / 2, channel="liquid_p", value=2.4e6 + 10.0 * i) for i in range(READINGS)
    ]
    return [
        SessionStarted(
            t=0.0,
            session_id="0123456789abcdef0123456789abcdef",
            started_utc="2026-05-04T08:15:00Z",
            software="chargeassist 0.1.0",
            table_hash="f" * 64,
            mode=SessionMode.SIMULATED,
            job=job_to_json(job),
        ),
        ChannelDeclared(t=0.0, channel=channel),
        *readings,
        Mark(t=20.0, kind=MarkKind.STEP_ENDED, mass_kg=0.11),
        StepRecorded(
            t=20.0, number=1, mass_kg=0.11, begun_t=20.0, ended_t=20.0, measured_by="technician"
        ),
        SessionStopped(t=21.0, outcome=Outcome.COMPLETE, counts={"liquid_p": READINGS}),
    ]


@pytest.fixture(scope="module")
def archives(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The same archive, signed, as a folder and as a ZIP file."""
    folder = tmp_path_factory.mktemp("tampering")
    made = events()
    writer = SessionWriter.create(folder / "a.session", made[0])  # type: ignore[arg-type]
    for number, event in enumerate(made[1:-1]):
        writer.append(event)
        if number % 8 == 7:
            writer.commit()
    writer.close(made[-1])  # type: ignore[arg-type]
    new_key("desk", folder / "keys")
    signer = Signer("desk", private_key("desk", folder / "keys"))
    for name in ("a", "a.zip"):
        make_archive(folder / "a.session", folder / name, signer=signer)
        assert verify(folder / name).ok
    return folder / "a", folder / "a.zip"


def found(folder: Path, name: str, data: bytes) -> bool:
    """Return whether verifying notices `data` in the place of the file `name`."""
    path = folder / name
    good = path.read_bytes()
    assert data != good
    try:
        path.write_bytes(data)
        return not verify(folder).ok
    finally:
        path.write_bytes(good)


def test_each_of_thousands_of_flipped_bits_is_found(archives: tuple[Path, Path]) -> None:
    folder, zipped = archives
    rng = random.Random(7)
    tried = 0
    for path in sorted(folder.iterdir()):
        good = path.read_bytes()
        for place in rng.sample(range(len(good)), min(len(good), 150)):
            changed = bytearray(good)
            changed[place] ^= 1 << rng.randrange(8)
            assert found(folder, path.name, bytes(changed)), f"{path.name}, byte {place}"
            tried += 1
    good = zipped.read_bytes()
    for place in rng.sample(range(len(good)), 1500):
        changed = bytearray(good)
        changed[place] ^= 1 << rng.randrange(8)
        assert not verify_zip(zipped, changed), f"ZIP, byte {place}"
        tried += 1
    assert tried > 2500


def verify_zip(zipped: Path, data: bytearray) -> bool:
    other = zipped.with_name("tampered.zip")
    other.write_bytes(data)
    return verify(other).ok


def test_each_truncated_tail_is_found(archives: tuple[Path, Path]) -> None:
    folder, zipped = archives
    for path in sorted(folder.iterdir()):
        good = path.read_bytes()
        for cut in {1, 2, 7, len(good) // 2, len(good) - 1, len(good)}:
            assert found(folder, path.name, good[:-cut]), f"{path.name} without {cut} bytes"
    data = zipped.read_bytes()
    for cut in (1, 22, 71, 72, 93, 500, len(data) - 1, len(data)):
        assert not verify_zip(zipped, bytearray(data[:-cut]))
    for more in (b"\0", b"PK\5\6" + b"\0" * 18):
        assert not verify_zip(zipped, bytearray(data + more))


@settings(max_examples=400, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_each_dropped_doubled_or_swapped_row_is_found(
    archives: tuple[Path, Path], data: st.DataObject
) -> None:
    folder, _ = archives
    name = data.draw(st.sampled_from(["readings.csv", "events.csv", "commits.csv", "SHA256SUMS"]))
    lines = (folder / name).read_bytes().splitlines(keepends=True)
    one = data.draw(st.integers(0, len(lines) - 1))
    other = data.draw(st.integers(0, len(lines) - 1))
    kind = data.draw(st.sampled_from(["drop", "double", "swap"]))
    changed = [*lines]
    if kind == "drop":
        del changed[one]
    elif kind == "double":
        changed.insert(other, lines[one])
    else:
        changed[one], changed[other] = changed[other], changed[one]
    if changed != lines:
        assert found(folder, name, b"".join(changed))


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    number=st.floats(0.001, 5.0).map(lambda x: round(x, 3)),
    unit=st.sampled_from(["Pa", "K", "A", "kg"]),
)
def test_each_edited_amount_and_unit_is_found(
    archives: tuple[Path, Path], number: float, unit: str
) -> None:
    folder, _ = archives
    for name, old, new in (
        ("events.csv", b'""mass_kg"":0.11', f'""mass_kg"":{number}'.encode()),
        ("job.json", b'"step_cap_kg": 0.11', f'"step_cap_kg": {number}'.encode()),
        ("datapackage.json", b'"step_cap_kg": 0.11', f'"step_cap_kg": {number}'.encode()),
        ("channels.csv", b",Pa,", f",{unit},".encode()),
    ):
        good = (folder / name).read_bytes()
        assert old in good
        changed = good.replace(old, new)
        if changed != good:
            assert found(folder, name, changed), name
