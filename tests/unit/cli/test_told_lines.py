"""What the technician tells a session of plain lines."""

import contextlib
import re
from pathlib import Path

import pytest

from chargeassist.cli.told_lines import Ending, ToldLines
from chargeassist.guide.assistant import Assistant
from chargeassist.guide.cautions import ARISES_IN
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.errors import ConfigError, UnitError
from chargeassist.model.events import (
    ChannelDeclared,
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionMode,
    Stage,
)
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.session.typed_time import Now

README = Path(__file__).parents[3] / "README.md"

JOB = Job(
    name="invented",
    refrigerant="R-32",
    target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
    charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11),
    site=Site(altitude_m=0.0),
)


def seen(*marks: Mark) -> Snapshot:
    """Return the picture a quarter of an hour into a job without probes."""
    assistant = Assistant(JOB, SessionMode.SIMULATED)
    for mark in marks:
        assistant.step(mark)
    assistant.advance(900.0)
    snapshot = assistant.snapshot()
    assert snapshot is not None
    return snapshot


def weighing() -> Snapshot:
    """Return the picture of a job whose cylinder stands on a scale."""
    assistant = Assistant(JOB, SessionMode.SIMULATED)
    scale = Channel(name="scale", role=Role.CYLINDER_MASS, unit="kg")
    assistant.step(ChannelDeclared(t=0.0, channel=scale))
    for t in range(1, 61):
        assistant.step(Reading(t=float(t), channel="scale", value=9.2))
    snapshot = assistant.snapshot()
    assert snapshot is not None
    return snapshot


def measured() -> Snapshot:
    """Return the picture of a job with a probe that has a name of its own."""
    assistant = Assistant(JOB, SessionMode.SIMULATED)
    probe = Channel(name="head", role=Role.LIQUID_PRESSURE, unit="psig")
    assistant.step(ChannelDeclared(t=0.0, channel=probe))
    for t in range(1, 61):
        assistant.step(Reading(t=float(t), channel="head", value=1.7e6))
    snapshot = assistant.snapshot()
    assert snapshot is not None
    return snapshot


def lines() -> ToldLines:
    return ToldLines(UnitSystem.SI, lambda: Now(900.0), JOB.charge.full_kg)


def mark(text: str, snapshot: Snapshot | None = None) -> Mark:
    told = lines().read(text, snapshot or seen())
    assert isinstance(told, Mark)
    return told


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("end 85 g", Mark(t=0.0, kind=MarkKind.STEP_ENDED, mass_kg=0.085)),
        ("end ?", Mark(t=0.0, kind=MarkKind.STEP_ENDED)),
        ("recovered 40 g  # into the other bottle", Mark(
            t=0.0, kind=MarkKind.STEP_ENDED, mass_kg=-0.04
        )),
        ("recovered ?", Mark(t=0.0, kind=MarkKind.STEP_ENDED, text="recovered")),
        ("frequency 72 Hz", Mark(t=0.0, kind=MarkKind.FREQUENCY_HELD, frequency_hz=72.0)),
        ("frequency 72 Hz, 12 min ago", Mark(
            t=0.0, kind=MarkKind.FREQUENCY_HELD, frequency_hz=72.0, read_t=180.0
        )),
        ("frequency lost", Mark(t=0.0, kind=MarkKind.FREQUENCY_LEFT)),
        ("checked airflow_low", Mark(t=0.0, kind=MarkKind.CONFIRMED, text="airflow_low")),
        ("stage weigh-in", Mark(t=0.0, kind=MarkKind.STAGE_BEGUN, text="weigh-in")),
        ("skip tightness: sheet #3", Mark(
            t=0.0, kind=MarkKind.STAGE_SKIPPED, text="tightness: sheet #3"
        )),
        ("note bay #2 is open", Mark(t=0.0, kind=MarkKind.NOTE, text="bay #2 is open")),
        ("liquid_pipe 31.2 °C, 2 min ago", Mark(
            t=0.0, kind=MarkKind.ENTERED, text="liquid_pipe", value_si=304.35, read_t=780.0
        )),
        ("vacuum 60", Mark(t=0.0, kind=MarkKind.ENTERED, text="vacuum", value_si=60.0)),
    ],
)  # fmt: skip
def test_a_line_is_a_mark(text: str, told: Mark) -> None:
    found = mark(text)
    assert (found.kind, found.text, found.read_t) == (told.kind, told.text, told.read_t)
    assert found.mass_kg == pytest.approx(told.mass_kg)
    assert found.value_si == pytest.approx(told.value_si)
    assert found.frequency_hz == told.frequency_hz


@pytest.mark.parametrize("name", ["head", "liquid_pressure"])
def test_a_probe_is_seen_to_by_its_name_or_its_place(name: str) -> None:
    assert mark(f"seen {name}", measured()) == Mark(t=0.0, kind=MarkKind.PROBE_SEEN_TO, text="head")


def test_a_step_ends_by_the_scale_where_one_is_heard() -> None:
    assert mark("end", weighing()) == Mark(t=0.0, kind=MarkKind.STEP_ENDED)
    with pytest.raises(UnitError, match="no scale reads this: type the amount in g"):
        mark("end")


@pytest.mark.parametrize("text", ["end 85 kg", "recovered 85 kg"])
def test_what_looks_like_a_slip_is_taken_when_it_comes_once_more(text: str) -> None:
    told = lines()
    with pytest.raises(ConfigError, match=r"than the whole circuit takes .*once more is taken"):
        told.read(text, seen())
    assert isinstance(told.read("end 85 g", seen()), Mark)
    with pytest.raises(ConfigError, match="once more"):  # another line came between
        told.read(text, seen())
    found = told.read(text, seen())
    assert isinstance(found, Mark)
    assert abs(found.mass_kg or 0.0) == pytest.approx(85.0)


def test_a_bare_number_is_what_is_asked_for() -> None:
    told = mark("1710")
    assert (told.kind, told.text) == (MarkKind.ENTERED, Entry.LIQUID_PRESSURE.value)
    assert told.value_si == pytest.approx(1.71e6)


def test_empty_lines_and_remarks_tell_nothing() -> None:
    assert lines().read("", seen()) is None
    assert lines().read("  # later", seen()) is None


def test_the_end() -> None:
    assert lines().read("finish", seen()) == Ending(Outcome.COMPLETE)
    assert lines().read("abandon", seen()) == Ending(Outcome.ABANDONED)


def test_cautions_are_read_one_by_one_and_a_step_waits_for_them() -> None:
    reader, snapshot = lines(), seen()
    with pytest.raises(ConfigError, match="first the caution, electricity and stored charge"):
        reader.read("begin", snapshot)
    read = []
    for _ in snapshot.unread:
        told = reader.read("caution", snapshot)
        assert isinstance(told, Mark)
        assert told.kind is MarkKind.CAUTION_READ
        read.append(told.text)
    assert read == [each.value for each in snapshot.unread]
    with pytest.raises(ConfigError, match="no caution waits"):
        reader.read("caution", snapshot)
    begun = reader.read("begin", snapshot)
    assert isinstance(begun, Mark)
    assert begun.kind is MarkKind.STEP_BEGUN


def test_what_is_asked_for_is_done() -> None:
    begun = Mark(t=1.0, kind=MarkKind.STAGE_BEGUN, text=Stage.CLOSE_OUT.value)
    told = mark("done", seen(begun))
    assert told.kind in {MarkKind.CAUTION_READ, MarkKind.CONFIRMED}
    with pytest.raises(ConfigError, match="asked for is a number: pressure of the liquid line"):
        lines().read("done", seen())


def readme_lines() -> list[str]:
    """Return every line that the README shows, without what it says of it."""
    (block,) = re.findall(r"```text\n(caution .*?)```", README.read_text("utf-8"), re.DOTALL)
    shown = []
    for row in block.splitlines():
        line, says = re.fullmatch(r"(.*?)  +(.*)", row).groups()  # type: ignore[union-attr]
        told = re.findall(r"(end 85 g|end alone|recovered 40 g|frequency lost|seen \w+)", says)
        shown += [line, *(each.removesuffix(" alone") for each in told)]
        shown += re.findall(r"(skip \w+: \w+|note|finish|abandon)(?=[;, ]|$)", says)
    return [f"{line} ..." if line == "note" else line for line in shown]


@pytest.mark.parametrize("text", readme_lines())
def test_a_line_of_the_readme_tells_something(text: str) -> None:
    begun = [
        seen(),
        weighing(),
        measured(),
        *(seen(Mark(t=1.0, kind=MarkKind.STAGE_BEGUN, text=s)) for s in Stage),
    ]
    for snapshot in begun:
        told = lines()
        for _ in (*snapshot.unread, None):
            with contextlib.suppress(ConfigError):
                assert told.read(text, snapshot) is not None
                return
            with contextlib.suppress(ConfigError):
                told.read("caution", snapshot)
    pytest.fail(f"nothing takes {text!r}")


def test_what_else_a_stage_lets_tell_is_told_by_its_words() -> None:
    dryness = seen(Mark(t=1.0, kind=MarkKind.STAGE_BEGUN, text=Stage.DRYNESS.value))
    assert mark("Pump oil changed", dryness) == Mark(t=0.0, kind=MarkKind.OIL_CHANGED)
    assert mark("leak closed  # at the flare", dryness).kind is MarkKind.LEAK_MENDED
    with pytest.raises(ConfigError, match=r"something was done \(pump on, .*leak closed\); came"):
        lines().read("pump oil", dryness)
    with pytest.raises(ConfigError, match="expected one of caution, done"):
        lines().read("pump oil changed", seen())


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("perhaps", "expected one of caution, done, a number"),
        ("end -5 g", "without a minus"),
        ("end 5 furlongs", "furlongs"),
        ("frequency", "type the frequency"),
        ("stage perhaps", "the name of a stage, such as weigh-in"),
        ("skip tightness", "skip STAGE: why"),
        ("note", "expected more after 'note'"),
        ("checked airflow", "expected one of filters_panels; came 'airflow'"),
        ("seen liquid_pressure", "none, for nothing is measured"),
        ("finish the panel first", "expected 'finish' alone, came 'finish the panel first'"),
        ("begin 110 g", "told at its end, such as 'end 85 g'"),
        ("liquid_pipe 31.2 °C, 1,5 min ago", "write a point, not a comma: 1.5 min ago"),
        ("liquid_pressure", "type pressure of the liquid line, such as"),
        ("liquid_pressure 1e9 kPag", "expected 0 kPa gauge to 15000 kPa gauge"),
        ("liquid_pressure 1710, 20 min ago", "before the session began"),
        ("liquid_pressure 1710 at 9:05", "say how long ago it was"),
    ],
)
def test_what_a_line_cannot_be_is_said(text: str, says: str) -> None:
    with pytest.raises(ConfigError, match=says):
        lines().read(text, seen())


@pytest.mark.parametrize("stage", [Stage.TIGHTNESS, Stage.DRYNESS])
def test_no_charge_step_begins_under_nitrogen_or_vacuum(stage: Stage) -> None:
    begun = Mark(t=1.0, kind=MarkKind.STAGE_BEGUN, text=stage.value)
    read = [
        Mark(t=2.0, kind=MarkKind.CAUTION_READ, text=hazard.value) for hazard in ARISES_IN[stage]
    ]
    with pytest.raises(ConfigError, match=f"no charge in this stage, {stage.value}"):
        lines().read("begin", seen(begun, *read))
