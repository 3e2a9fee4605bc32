"""What goes wrong with the logger itself, followed over a session that was interrupted."""

from chargeassist.guide.trouble import Trouble
from chargeassist.model.events import BadInput, SessionResumed, SourceBack, SourceLost


def test_what_was_lost_before_an_interruption_is_not_lost_for_good() -> None:
    trouble = Trouble()
    trouble.take(BadInput(t=1.0, source="clamps", reason="no number"))
    trouble.take(SourceLost(t=10.0, source="clamps", reason="unplugged"))
    assert [item.subject for item in trouble.cautions(20.0)] == ["clamps"]
    trouble.take(SessionResumed(t=30.0, away_s=8.0))
    assert trouble.cautions(30.0) == []
    assert [source.bad_inputs for source in trouble.sources] == [1]


def test_a_source_that_is_still_lost_says_so_itself() -> None:
    trouble = Trouble()
    trouble.take(SourceLost(t=10.0, source="clamps", reason="unplugged"))
    trouble.take(SessionResumed(t=30.0, away_s=8.0))
    trouble.take(SourceLost(t=31.0, source="clamps", reason="no port"))
    (caution,) = trouble.cautions(41.0)
    assert (caution.cause, caution.figures) == ("source_lost", {"seconds_s": 10.0})
    trouble.take(SourceBack(t=42.0, source="clamps"))
    assert trouble.cautions(42.0) == []
