"""The pictures of a report where gauges were read by hand: marks where somebody looked."""

import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import RUNNING_ROLES, Entry
from chargeassist.model.events import (
    ChannelDeclared,
    Event,
    Mark,
    MarkKind,
    Reading,
    VerdictEvent,
)
from chargeassist.qa import report_pictures
from chargeassist.qa.report_trace import Trace, typed_points
from chargeassist.qa.rescore import Rescored, rescore
from chargeassist.session.record.package import open_record, write_package
from tests.unit.qa.conftest import write_session

EVERY_S = 60.0
"""The session's probes are read off and typed so often."""


def by_hand(events: list[Event], only: frozenset[Role]) -> list[Event]:
    """Return a session in which the probes of `only` are gauges that somebody reads."""
    names = {
        event.channel.name: event.channel.role
        for event in events
        if isinstance(event, ChannelDeclared) and event.channel.role in only
    }
    entries = {role: entry for entry, role in RUNNING_ROLES.items()}
    due = {name: 20.0 + 5.0 * number for number, name in enumerate(names)}
    found: list[Event] = []
    for event in events:
        match event:
            case ChannelDeclared(channel=channel) if channel.name in names:
                pass
            case Reading(channel=name) if name in names:
                if event.t >= due[name]:
                    due[name] += EVERY_S
                    text = entries[names[name]].value
                    kind = MarkKind.ENTERED
                    found.append(Mark(t=event.t, kind=kind, text=text, value_si=event.value))
            case _:
                if not isinstance(event, VerdictEvent):
                    found.append(event)
    return found


LIQUID = frozenset({Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE})


@pytest.fixture(scope="module")
def typed(charged: list[Event], tmp_path_factory: pytest.TempPathFactory) -> tuple[Rescored, Trace]:
    path = tmp_path_factory.mktemp("typed") / "typed.session"
    write_session(path, by_hand(charged, LIQUID))
    trace = Trace()
    with open_record(path) as record:
        return rescore(record, trace), trace


@pytest.fixture
def axes() -> Any:
    pytest.importorskip("matplotlib")
    from matplotlib.figure import Figure

    return Figure().add_subplot()


def lines(axes: Any) -> dict[str, Any]:
    return {line.get_label(): line for line in axes.get_lines()}


def test_what_was_typed_is_drawn_as_marks_beside_the_lines_of_the_probes(
    typed: tuple[Rescored, Trace], axes: Any
) -> None:
    session, trace = typed
    points = {
        entry: typed_points(session.marks, entry)
        for entry in (Entry.LIQUID_PRESSURE, Entry.SUCTION_PRESSURE, Entry.TEST_PRESSURE)
    }
    report_pictures._pressures(axes, trace, points, UnitSystem.SI)
    drawn = lines(axes)
    assert set(drawn) == {"liquid line, typed", "suction line"}
    marks = [m for m in session.marks if m.text == Entry.LIQUID_PRESSURE.value]
    minutes, kilopascal = drawn["liquid line, typed"].get_data()
    assert list(minutes) == [m.seen_t / 60.0 for m in marks]
    assert list(kilopascal) == [(m.value_si or 0.0) / 1e3 for m in marks]
    assert drawn["liquid line, typed"].get_linestyle() == "None"
    assert {text.get_text() for text in axes.get_legend().get_texts()} == set(drawn)
    assert all(math.isnan(value) for value in trace.liquid)


@pytest.mark.parametrize(
    "suction_pa", [[-95e3, -101e3], [-101e3, 820e3], [600e3, 820e3], [0.0, 0.0]]
)
def test_a_pressure_below_the_atmosphere_stays_in_the_picture(
    axes: Any, suction_pa: list[float]
) -> None:
    nothing = [math.nan, math.nan]
    trace = Trace(t=[0.0, 60.0], liquid=nothing, suction=suction_pa)
    typed: dict[Entry, Any] = {entry: ([], []) for entry in report_pictures._TYPED_PRESSURES}
    report_pictures._pressures(axes, trace, typed, UnitSystem.SI)
    bottom, top = axes.get_ylim()
    assert bottom < top, "pressure rises upwards"
    assert bottom <= min(0.0, min(suction_pa) / 1e3)
    assert top >= max(0.0, max(suction_pa) / 1e3)
    assert bottom == 0.0 or min(suction_pa) < 0.0


def test_the_judged_value_has_a_mark_for_each_whole_reading(
    typed: tuple[Rescored, Trace], axes: Any
) -> None:
    session, trace = typed
    report_pictures._charge(axes, session, trace, UnitSystem.SI)
    drawn = lines(axes)
    assert "subcooling" not in drawn
    minutes, _ = drawn["subcooling, typed"].get_data()
    pairs = sum(m.text == Entry.LIQUID_PIPE.value for m in session.marks)
    assert pairs - 3 <= len(minutes) <= pairs  # not one taken while a step was open
    assert all(later - earlier > 0.5 for earlier, later in pairwise(minutes))


def test_a_pressure_and_a_temperature_read_together_give_their_subcooling(
    typed: tuple[Rescored, Trace], session_file: Path
) -> None:
    """Marks of the session by hand lie on the line of the same session with its probes."""
    _, trace = typed
    probes = Trace()
    with open_record(session_file) as record:
        rescore(record, probes)
    line = dict(zip((round(t) for t in probes.t), probes.judged, strict=True))
    near = [(value, line.get(round(t), line.get(round(t) + 1))) for t, value in trace.by_hand]
    off = sorted(abs(value - of_probes) for value, of_probes in near if of_probes is not None)
    assert len(off) > 5
    assert off[len(off) // 2] < 0.3  # K; the five seconds between both count


def test_with_probes_nothing_changes(session_file: Path, axes: Any) -> None:
    trace = Trace()
    with open_record(session_file) as record:
        session = rescore(record, trace)
    report_pictures._charge(axes, session, trace, UnitSystem.SI)
    assert "subcooling" in lines(axes)
    assert trace.by_hand == []
    words = [p.words for p in report_pictures.pictures(session, trace, UnitSystem.SI, "svg")]
    assert not any("typed" in each for each in words)


def test_vacuum_amps_and_nitrogen_have_their_marks_and_captions(
    charged: list[Event], tmp_path: Path
) -> None:
    pytest.importorskip("matplotlib")
    told = [
        Mark(t=30.0 + number, kind=MarkKind.ENTERED, text=entry.value, value_si=value)
        for number, (entry, value) in enumerate(
            [(Entry.VACUUM, 60.0), (Entry.VACUUM, 40.0), (Entry.TEST_PRESSURE, 3.8e6)]
        )
    ]
    events = by_hand(charged, LIQUID)
    at = next(i for i, event in enumerate(events) if event.t > 40.0)
    write_package([*events[:at], *[_at(m, 40.0) for m in told], *events[at:]], tmp_path / "p")
    trace = Trace()
    with open_record(tmp_path / "p") as record:
        session = rescore(record, trace)
    found = {p.title: p for p in report_pictures.pictures(session, trace, UnitSystem.US, "svg")}
    assert "read by hand and typed as marks" in found["Vacuum"].words
    assert "read by hand and typed as marks" in found["Pressures"].words
    assert "typed" not in found["Compressor amps"].words  # read by a probe


def _at(mark: Mark, t: float) -> Mark:
    return Mark(t=t, kind=mark.kind, text=mark.text, value_si=mark.value_si)


def test_what_is_known_between_readings_is_watched_without_a_change_of_verdicts(
    charged: list[Event], tmp_path: Path
) -> None:
    """A session without a probe has minutes without an event."""
    events: list[Event] = [
        event
        for event in by_hand(charged, LIQUID)
        if not isinstance(event, ChannelDeclared | Reading)
    ]
    assert max(later.t - earlier.t for earlier, later in pairwise(events)) > 20.0
    write_session(tmp_path / "bare.session", events)
    trace = Trace()
    with open_record(tmp_path / "bare.session") as record:
        watched = rescore(record, trace)
        assert rescore(record).made == watched.made
    assert max(later - earlier for earlier, later in pairwise(trace.t)) <= 4.0
    assert not any(math.isnan(value) for value in trace.low)
