"""Whatever is told, typed and read in any stage: verdicts, or nothing; never an exception.

The jobs are those of shipped scenarios, so that plates, steps and profiles are there to be judged
by; what happens to them is anything.
"""

import itertools
import math
from dataclasses import replace
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chargeassist.guide import wording
from chargeassist.guide.assistant import Assistant
from chargeassist.model.channels import Accuracy, Channel, Quality, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import (
    ChannelDeclared,
    InputEvent,
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionMode,
    SessionResumed,
    SessionStopped,
    SourceLost,
    Stage,
)
from chargeassist.model.hazards import Hazard
from chargeassist.model.units import Quantity, Reference
from chargeassist.session.scenario.scenario import find_scenario

JOBS = {
    name: find_scenario(name, Path()).job
    for name in ("nitrogen-leak", "vacuum-moist", "fixed-orifice", "millrace-lane-library")
}
ABSOLUTE = {Role.BAROMETER, Role.VACUUM}
ROLES = tuple(Role)
WILD = st.one_of(
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from(
        [0.0, 1e308, -1e308, 5e-324, 60.0, 67.0, 4.2e6, 2.3e6, 308.0, 295.0, 101_325.0]
    ),
)
GAPS = st.sampled_from([0.0, 0.3, 1.0, 5.0, 61.0, 600.0, 3601.0, -5.0])
NEAR = {
    Role.VACUUM: 60.0,
    Role.BAROMETER: 98_500.0,
    Role.LIQUID_PRESSURE: 4.0e6,
    Role.SUCTION_PRESSURE: 4.0e6,
    Role.CYLINDER_MASS: 9.0,
}
WORDS = st.one_of(
    st.sampled_from(
        [*(s.value for s in Stage), *(e.value for e in Entry), *(h.value for h in Hazard)]
    ),
    st.sampled_from([*(f"{stage.value}: why" for stage in Stage), "x", ":", ""]),
    st.text(max_size=6),
)

Jump = tuple[float, InputEvent]
marks = st.builds(
    lambda gap, kind, text, value, mass: [
        (gap, Mark(t=0.0, kind=kind, text=text, value_si=value, mass_kg=mass))
    ],
    GAPS,
    st.sampled_from(MarkKind),
    WORDS,
    st.one_of(st.none(), WILD),
    st.one_of(st.none(), WILD),
)
begun = st.builds(
    lambda stage: [
        (1.0, Mark(t=0.0, kind=MarkKind.STAGE_BEGUN, text=stage.value)),
        *((0.0, Mark(t=0.0, kind=MarkKind.CAUTION_READ, text=each.value)) for each in Hazard),
    ],
    st.sampled_from(Stage),
)
entered = st.builds(
    lambda kind, value: [
        (1.0, Mark(t=0.0, kind=MarkKind.ENTERED, text=kind.value, value_si=value))
    ],
    st.sampled_from(Entry),
    st.one_of(WILD, st.sampled_from([230.0, 295.0, 290.0, 5.0, 0.5])),
)
done = st.builds(
    lambda kind: [(2.0, Mark(t=0.0, kind=kind))],
    st.sampled_from(
        [
            *(MarkKind.NITROGEN_ON, MarkKind.NITROGEN_OFF, MarkKind.VENTED, MarkKind.PUMP_ON),
            *(
                MarkKind.PUMP_OFF,
                MarkKind.OIL_CHANGED,
                MarkKind.VALVE_SHUT,
                MarkKind.VALVE_OPENED,
                MarkKind.LEAK_MENDED,
            ),
        ]
    ),
)
other = st.builds(
    lambda gap, event: [(gap, event)],
    GAPS,
    st.one_of(
        st.just(SourceLost(t=0.0, source="cart", reason="cable")),
        st.just(SessionResumed(t=0.0, away_s=10.0)),
        st.builds(
            Reading,
            t=st.just(0.0),
            channel=st.sampled_from([r.value for r in ROLES]),
            value=WILD,
            quality=st.sampled_from(Quality),
        ),
    ),
)


@st.composite
def steady(draw: st.DrawFn) -> list[Jump]:
    """Some time of readings that lie near something, every `every` seconds."""
    every = draw(st.sampled_from([1.0, 5.0, 30.0]))
    drift = draw(st.sampled_from([0.0, 1e-4, 0.02]))
    left_out = draw(st.sets(st.sampled_from(ROLES), max_size=6))
    found: list[Jump] = []
    for i in range(draw(st.integers(5, 60))):
        gap = every
        for role in ROLES:
            if role not in left_out:
                value = NEAR.get(role, 300.0) * (1.0 + drift * i)
                found.append((gap, Reading(t=0.0, channel=role.value, value=value)))
                gap = 0.0
    return found


def channel(role: Role) -> Channel:
    reference = None
    if role.quantity is Quantity.PRESSURE:
        reference = Reference.ABSOLUTE if role in ABSOLUTE else Reference.GAUGE
    accuracy = Accuracy(absolute_si=0.1, relative=0.001)
    return Channel(
        name=role.value, role=role, unit="1", reference=reference, accuracy=accuracy, source="cart"
    )


@settings(max_examples=12, suppress_health_check=list(HealthCheck))
@given(
    name=st.sampled_from(sorted(JOBS)),
    pieces=st.lists(
        st.one_of(marks, begun, begun, entered, done, done, other, steady(), steady()), max_size=14
    ),
)
def test_any_stages_end_in_verdicts_that_can_be_shown(name: str, pieces: list[list[Jump]]) -> None:
    assistant = Assistant(JOBS[name], SessionMode.SIMULATED)
    for role in ROLES:
        assistant.step(ChannelDeclared(t=0.0, channel=channel(role)))
    t = 0.0
    for gap, event in itertools.chain.from_iterable(pieces):
        for verdict in assistant.step(replace(event, t=t + gap)):
            assert math.isfinite(verdict.t)
        t = max(t, t + gap)
        snapshot = assistant.snapshot()
        if snapshot is None:
            continue
        for system in UnitSystem:
            assert wording.sentence(snapshot.advice, system)
            if snapshot.stage_step is not None:
                for row in snapshot.stage_step.rows:
                    assert any(wording.stage_row(row, system))
    assistant.step(SessionStopped(t=t, outcome=Outcome.COMPLETE))
