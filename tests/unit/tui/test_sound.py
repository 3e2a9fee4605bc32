"""When the bell rings, on invented moments."""

from dataclasses import replace

from chargeassist.guide.snapshot import Caution
from chargeassist.tui.preview import add, fix, moving, recover, stop
from chargeassist.tui.sound import ONCE, TWICE, Bell


def test_settled_and_something_to_do_ring_once_and_only_when_new() -> None:
    ear = Bell()
    assert ear.rings(moving()) == 0
    assert ear.rings(add()) == ONCE
    assert ear.rings(add()) == 0
    assert ear.rings(moving()) == 0
    assert ear.rings(replace(stop(), cautions=())) == ONCE


def test_what_wants_eyes_at_once_rings_twice() -> None:
    for trouble in (fix(), recover()):
        ear = Bell()
        ear.rings(moving())
        assert ear.rings(trouble) == TWICE
        assert ear.rings(trouble) == 0


def test_a_lost_source_or_a_failing_record_rings_twice_once() -> None:
    ear = Bell()
    ear.rings(moving())
    lost = replace(moving(), cautions=(Caution(cause="source_lost", subject="cart"),))
    assert ear.rings(lost) == TWICE
    assert ear.rings(lost) == 0
    assert ear.rings(moving()) == 0
    assert ear.rings(lost) == TWICE


def test_what_stood_when_the_program_began_is_no_news_but_settled_is() -> None:
    assert Bell().rings(fix()) == 0
    assert Bell().rings(add()) == ONCE
