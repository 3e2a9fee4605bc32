"""Bad input as lines: said at once, and what goes on alike only now and then, none uncounted."""

from chargeassist.cli.lines import BAD_INPUT_EVERY_S, Lines
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import BadInput, Event, Outcome, SessionStopped
from chargeassist.session.job.demo import demo_job

NO_NUMBER = "expected a number, got nan"


def _said(*events: Event) -> list[str]:
    said: list[str] = []
    lines = Lines(said.append, demo_job("library"), UnitSystem.SI)
    for event in events:
        lines(event)
    return said


def _bad(t: float, reason: str = NO_NUMBER, source: str = "cart", count: int = 1) -> BadInput:
    return BadInput(t=t, source=source, reason=reason, raw="nan", count=count)


def test_a_probe_that_goes_on_sending_nonsense_makes_few_lines_that_count_all_of_it() -> None:
    end = SessionStopped(t=60.0, outcome=Outcome.COMPLETE, counts={})
    said = _said(*(_bad(0.5 * n) for n in range(100)), end)
    told = [line for line in said if "unreadable" in line]
    assert len(told) == 1 + int(49.5 // BAD_INPUT_EVERY_S) + 1
    counts = [int(line.rpartition("(")[2].split()[0]) if "times" in line else 1 for line in told]
    assert sum(counts) == 100
    assert said[-1].endswith("end: complete")


def test_another_reason_or_source_is_said_at_once_and_what_waited_before_it() -> None:
    said = _said(_bad(1.0), _bad(2.0), _bad(3.0), _bad(3.5, source="van"), _bad(4.0, "no columns"))
    assert [line.split("! ")[1] for line in said] == [
        f"cart sent something unreadable: {NO_NUMBER} [nan]",
        f"van sent something unreadable: {NO_NUMBER} [nan]",
        f"cart sent something unreadable: {NO_NUMBER} (2 times)",
        "cart sent something unreadable: no columns [nan]",
    ]


def test_after_a_jump_back_in_a_recording_it_is_said_again() -> None:
    assert len(_said(_bad(100.0), _bad(5.0))) == 2
