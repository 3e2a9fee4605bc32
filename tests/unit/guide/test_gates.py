"""The gates before judging: bad probes and unmet conditions, alone and in whole simulated sessions.

The sessions are computed with the shipped simulator and plant; nothing in them was measured.
"""

import asyncio
import tempfile
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from importlib.resources import files
from pathlib import Path

import pytest

from chargeassist.guide import gates, wording
from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Mark, MarkKind, SessionMode
from chargeassist.model.units import Reference
from chargeassist.session.pilot import Pilot
from chargeassist.session.plugins import make_source
from chargeassist.session.runner import Session
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.stream.facts import (
    ChannelFacts,
    Facts,
    Measured,
    OpenStep,
    SettleState,
    Settling,
)
from chargeassist.stream.probe_findings import ProbeFinding, ProbeTrouble, Severity
from tests.unit.guide.bare_facts import bare_facts

LOOSE_AT_S = 600.0
"""The circuit has stood still for minutes by then: nobody charges it."""


def facts(*found: ProbeFinding, **changes: object) -> Facts:
    """Return a settled tick with `found` wrong about its probes; every number is invented."""
    channels = tuple(
        ChannelFacts(
            channel=Channel(
                name=f"cart {role.value}",
                role=role,
                unit="Pa",
                reference=Reference.GAUGE if "pressure" in role.value else None,
            ),
            value_si=300.0,
            age_s=0.5,
        )
        for role in (Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE, Role.SUCTION_TEMPERATURE)
    )
    reading = Measured(value_k=5.0, expanded_k=0.4)
    tick = bare_facts(
        t=1000.0,
        channels=channels,
        subcooling=reading,
        superheat=Measured(value_k=6.0, expanded_k=0.5),
        liquid_saturation_k=309.0,
        suction_saturation_k=280.0,
        settling=Settling(state=SettleState.SETTLED, cause="settled", since_s=300.0),
        settled=reading,
        settled_superheat_k=6.0,
        findings=found,
    )
    return replace(tick, **changes)  # type: ignore[arg-type]


def finding(
    role: Role = Role.LIQUID_TEMPERATURE,
    kind: ProbeTrouble = ProbeTrouble.STUCK,
    severity: Severity = Severity.UNUSABLE,
) -> ProbeFinding:
    return ProbeFinding(
        channel=f"cart {role.value}", kind=kind, severity=severity, figures={}, since_t=880.0
    )


@pytest.mark.parametrize("role", [Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE])
@pytest.mark.parametrize(
    ("kind", "severity", "blocks"),
    [
        (ProbeTrouble.STUCK, Severity.UNUSABLE, True),
        (ProbeTrouble.OUT_OF_RANGE, Severity.UNUSABLE, True),
        (ProbeTrouble.LOOSE, Severity.CAUTION, True),
        (ProbeTrouble.NOISY, Severity.CAUTION, False),
        (ProbeTrouble.JUMPING, Severity.CAUTION, False),
        (ProbeTrouble.LAGGING, Severity.NOTE, False),
    ],
)
def test_what_keeps_subcooling_from_being_judged(
    role: Role, kind: ProbeTrouble, severity: Severity, blocks: bool
) -> None:
    advice = gates.probe(facts(finding(role, kind, severity)))
    assert (advice is not None) is blocks
    if advice is not None:
        assert (advice.action, advice.cause) == (Action.FIX_FIRST, "probe_trouble")
        assert advice.subject == f"{role.label}: {kind.value}"
        assert advice.figures == {"since_s": 120.0}


def test_a_suction_probe_in_trouble_does_not_stand_in_the_way() -> None:
    assert gates.probe(facts(finding(Role.SUCTION_TEMPERATURE))) is None


def test_a_finding_about_a_channel_that_has_gone_is_not_worded() -> None:
    assert gates.probe(facts(replace(finding(), channel="unplugged"))) is None


def test_an_open_valve_comes_before_a_bad_probe() -> None:
    assert gates.probe(facts(finding(), step_open=OpenStep(begun_t=990.0))) is None


def test_the_second_finding_is_named_where_the_first_is_harmless() -> None:
    harmless = finding(Role.LIQUID_PRESSURE, ProbeTrouble.NOISY, Severity.CAUTION)
    advice = gates.probe(facts(harmless, finding()))
    assert advice is not None
    assert advice.subject == "liquid line temperature: stuck"


class _Watcher:
    """A technician who holds the frequency, charges nothing, and sees to a probe when told to."""

    finished = False

    def __init__(self, sees_to: str) -> None:
        self._sees_to = sees_to
        self._told_t: float | None = None
        self.seen_to_t: float | None = None

    def look(self, snapshot: Snapshot) -> tuple[Mark, ...]:
        t, advice = snapshot.t, snapshot.advice
        if advice.cause == "hold_missing":
            hertz = advice.figures["required_hz"]
            return (Mark(t=t, kind=MarkKind.FREQUENCY_HELD, frequency_hz=hertz),)
        if advice.cause != "probe_trouble" or not self._sees_to or self.seen_to_t is not None:
            return ()
        self._told_t = t if self._told_t is None else self._told_t
        if t - self._told_t < 30.0:
            return ()
        self.seen_to_t = t
        return (Mark(t=t, kind=MarkKind.PROBE_SEEN_TO, text=self._sees_to),)


SCENARIOS = {"library": "millrace-lane-library", "bakery": "quarry-road-bakery"}


def played(
    name: str, seed: int, attendant: Pilot | _Watcher, more: str = "", minutes: int = 30
) -> list[Snapshot]:
    """Return every snapshot of a demonstration job in the hands of `attendant`."""
    shipped = files("chargeassist") / "data" / "scenarios" / f"{SCENARIOS[name]}.toml"
    with tempfile.TemporaryDirectory() as folder:
        text = shipped.read_text(encoding="utf-8").replace("60 min", f"{minutes} min")
        (Path(folder) / "unit.toml").write_text(text + more, encoding="utf-8")
        scenario = find_scenario("unit.toml", Path(folder), seed)
        sources = [make_source(spec, Path(folder)) for spec in scenario.job.sources]
    seen: list[Snapshot] = []
    session = Session(
        Assistant(scenario.job, SessionMode.SIMULATED),
        sources,
        recorder=None,
        speed=None,
        attendant=attendant,
    )
    asyncio.run(session.run(seen.append))
    return seen


@cache
def healthy(name: str, seed: int) -> tuple[Snapshot, ...]:
    return tuple(played(name, seed, Pilot()))


SEEDS = range(1, 7)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", ["library", "bakery"])
def test_nothing_is_found_about_the_probes_of_a_healthy_session(name: str, seed: int) -> None:
    shots = healthy(name, seed)
    assert [each.t for each in shots if each.facts.findings] == []
    assert shots[-1].advice.action is Action.STOP
    assert not any(each.advice.cause == "probe_trouble" for each in shots)
    assert not any(item.cause == "probe_doubt" for each in shots for item in each.cautions)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_simulated_shortage_is_never_kept_from_being_cured(seed: int) -> None:
    shots = healthy("library", seed)
    adding = [each for each in shots if each.advice.action is Action.ADD]
    assert adding
    assert all(each.diagnosis is not None for each in adding)
    assert not any(each.advice.cause == "not_the_cure" for each in shots)


@cache
def loose(seed: int, sees_to: str = "") -> tuple[tuple[Snapshot, ...], float | None]:
    watcher = _Watcher(sees_to)
    fault = (
        '[[probes.fault]]\nrole = "liquid_temperature"\nkind = "loose"\namount = "35 %"\n'
        f'at = "{LOOSE_AT_S:.0f} s"\n'
    )
    minutes = 14 if sees_to else 23  # as long as anything is looked at
    return tuple(played("library", seed, watcher, fault, minutes)), watcher.seen_to_t


def first(shots: tuple[Snapshot, ...], wanted: Callable[[Snapshot], bool]) -> Snapshot:
    return next(each for each in shots if wanted(each))


@pytest.mark.parametrize("seed", SEEDS)
def test_a_clamp_that_lets_go_is_named_before_its_reading_is_believed(seed: int) -> None:
    shots, _ = loose(seed)
    told = first(shots, lambda each: each.advice.cause == "probe_trouble")
    assert LOOSE_AT_S < told.t < LOOSE_AT_S + 180.0
    assert wording.sentence(told.advice, UnitSystem.SI).startswith(
        "Fix first: liquid line temperature: loose for "
    )
    doubt = [item for item in told.cautions if item.cause == "probe_doubt"]
    assert [item.subject for item in doubt] == ["liquid line temperature: loose"]
    # The cold clamp reads as much subcooling; without the gate that says "recover".
    assert not any(each.advice.action is Action.RECOVER for each in shots)
    later = [each.advice.cause for each in shots if told.t < each.t < told.t + 600.0]
    assert set(later) == {"probe_trouble"}


def test_a_probe_that_was_seen_to_is_believed_again() -> None:
    shots, seen_to_t = loose(1, "liquid_temperature")
    assert seen_to_t is not None
    after = first(shots, lambda each: each.t > seen_to_t + 1.0)
    assert after.facts.findings == ()
    assert after.advice.cause != "probe_trouble"
    assert not any(item.cause == "probe_doubt" for item in after.cautions)


def test_another_probes_name_does_not_clear_it() -> None:
    shots, seen_to_t = loose(1, "liquid_pressure")
    assert seen_to_t is not None
    after = first(shots, lambda each: each.t > seen_to_t + 1.0)
    assert after.advice.cause == "probe_trouble"
