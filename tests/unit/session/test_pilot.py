"""The scripted technician does what the advice says and nothing else."""

from dataclasses import dataclass, field
from typing import cast

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import Action, Advice, Mark, MarkKind
from chargeassist.model.hazards import Hazard
from chargeassist.session.pilot import (
    FLOW_KG_PER_S,
    LOOKS_AT_STOP_FOR_S,
    READS_CAUTION_FOR_S,
    READS_FOR_S,
    Pilot,
)


@dataclass
class Item:
    channel: Channel
    value_si: float | None


@dataclass
class Facts:
    channels: tuple[Item, ...] = ()

    def live(self, role: Role) -> float | None:
        """Return the live value of a role, as the stream's own facts do."""
        return next((i.value_si for i in self.channels if i.channel.role is role), None)


@dataclass
class Shown:
    """The part of a snapshot the technician looks at."""

    t: float
    advice: Advice
    facts: Facts = field(default_factory=Facts)
    unread: tuple[Hazard, ...] = ()

    @property
    def scale_heard(self) -> bool:
        return self.facts.live(Role.CYLINDER_MASS) is not None


def advice(action: Action, cause: str, **more: object) -> Advice:
    return Advice(t=0.0, action=action, cause=cause, **more)  # type: ignore[arg-type]


def watch(
    pilot: Pilot, shown: Advice, begin: float, end: float, facts: Facts | None = None
) -> list[Mark]:
    """Show one advice once a second and return the marks it is answered with."""
    marks: list[Mark] = []
    for t in range(int(begin), int(end)):
        picture = Shown(float(t), shown, facts or Facts())
        marks += pilot.look(cast(Snapshot, picture))
    return marks


SCALE = Channel(name="scale", role=Role.CYLINDER_MASS, unit="kg")
ADD = advice(Action.ADD, "below", mass_kg=0.11)
WAIT = advice(Action.WAIT, "settling")


def test_an_amount_is_added_after_reading_it_and_told_where_no_scale_tells_it() -> None:
    pilot = Pilot()
    begun, ended = watch(pilot, ADD, 0, 115)
    assert begun.kind is MarkKind.STEP_BEGUN
    assert READS_FOR_S <= begun.t <= READS_FOR_S + 1.0
    assert begun.mass_kg == 0.11
    assert ended.kind is MarkKind.STEP_ENDED
    assert ended.mass_kg == 0.11
    assert ended.t - begun.t >= 0.11 / FLOW_KG_PER_S


def test_with_a_scale_the_amount_is_left_to_it() -> None:
    facts = Facts((Item(SCALE, 12.0),))
    assert watch(Pilot(), ADD, 0, 115, facts)[1].mass_kg is None
    silent = Facts((Item(SCALE, None),))
    assert watch(Pilot(), ADD, 0, 115, silent)[1].mass_kg == 0.11


def test_waiting_is_answered_with_nothing() -> None:
    pilot = Pilot()
    assert watch(pilot, WAIT, 0, 500) == []
    assert watch(pilot, advice(Action.FIX_FIRST, "no_signal"), 500, 900) == []
    assert not pilot.finished


def test_advice_that_changes_is_read_anew() -> None:
    pilot = Pilot()
    for k in range(20):
        assert watch(pilot, ADD, k * 10, k * 10 + 4) == []
        assert watch(pilot, WAIT, k * 10 + 4, k * 10 + 10) == []


def test_recovering_is_told_as_a_negative_amount() -> None:
    (mark,) = watch(Pilot(), advice(Action.RECOVER, "above", mass_kg=0.2), 0, 10)
    assert (mark.kind, mark.mass_kg) == (MarkKind.STEP_ENDED, -0.2)


def test_a_frequency_that_no_channel_shows_is_confirmed() -> None:
    missing = advice(Action.FIX_FIRST, "hold_missing", figures={"required_hz": 72.0})
    (mark,) = watch(Pilot(), missing, 0, 10)
    assert (mark.kind, mark.frequency_hz) == (MarkKind.FREQUENCY_HELD, 72.0)
    figures = {"required_hz": 72.0, "actual_hz": 30.0}
    shown = advice(Action.FIX_FIRST, "hold_missing", figures=figures)
    assert watch(Pilot(), shown, 0, 100) == [], "a channel shows it: nothing to confirm"


def test_it_packs_up_only_after_looking_at_stop_long_enough() -> None:
    pilot = Pilot()
    stop = advice(Action.STOP, "inside")
    watch(pilot, stop, 0, int(LOOKS_AT_STOP_FOR_S) - 1)
    assert not pilot.finished
    watch(pilot, WAIT, 100, 101)
    watch(pilot, stop, 101, 150)
    assert not pilot.finished
    watch(pilot, stop, 150, 101 + int(LOOKS_AT_STOP_FOR_S) + 2)
    assert pilot.finished


def test_cautions_are_read_one_after_the_other_without_holding_up_the_hands() -> None:
    pilot, marks = Pilot(), []
    unread = [Hazard.PRESSURE, Hazard.BURNS]
    for t in range(30):
        shown = Shown(float(t), ADD, unread=tuple(unread))
        for mark in pilot.look(cast(Snapshot, shown)):
            marks.append(mark)
            if mark.kind is MarkKind.CAUTION_READ:
                unread.remove(Hazard(mark.text))
    read = [mark for mark in marks if mark.kind is MarkKind.CAUTION_READ]
    assert [mark.text for mark in read] == ["pressure", "refrigerant_burns"]
    assert read[0].t == READS_CAUTION_FOR_S
    assert read[1].t >= 2.0 * READS_CAUTION_FOR_S
    assert MarkKind.STEP_BEGUN in {mark.kind for mark in marks}
