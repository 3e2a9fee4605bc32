"""What the steps of a job teach: the gain, from settled to settled."""

import pytest

from chargeassist.stream.ledger import Ledger
from tests.unit.stream.step_marks import begun, ended


def learn(ledger: Ledger, mass_kg: float | None, after_k: float | None, t: float) -> None:
    ledger.take(begun(t))
    ledger.take(ended(t + 30.0, mass_kg))
    if after_k is not None:
        ledger.settled(after_k)


def test_a_gain_is_learnt_from_settled_to_settled() -> None:
    ledger = Ledger(2.0)
    ledger.settled(2.0)
    learn(ledger, 0.1, 3.5, 100.0)
    (step,) = ledger.steps
    assert (step.before_k, step.after_k) == (2.0, 3.5)
    assert step.gain_k_per_kg == pytest.approx(15.0)
    assert step.gain_over_kg == pytest.approx(0.1)
    ledger.settled(9.0)  # later drift does not rewrite what was learnt
    assert ledger.steps[0].after_k == 3.5


def test_steps_without_settling_between_teach_together() -> None:
    ledger = Ledger(2.0)
    ledger.settled(2.0)
    learn(ledger, 0.05, None, 100.0)
    ledger.unsettled("no_signal")
    learn(ledger, 0.07, None, 200.0)
    learn(ledger, 0.0, 3.8, 300.0)
    assert [step.gain_k_per_kg for step in ledger.steps] == [None, None, pytest.approx(15.0)]
    assert ledger.steps[-1].gain_over_kg == pytest.approx(0.12)
    assert [step.before_k for step in ledger.steps] == [2.0, None, None]


def test_no_step_teaches_twice() -> None:
    ledger = Ledger(2.0)
    ledger.settled(2.0)
    learn(ledger, 0.1, 3.5, 100.0)
    ledger.unsettled("hold_missing")
    learn(ledger, 0.1, 4.5, 200.0)
    assert ledger.steps[1].gain_k_per_kg == pytest.approx(10.0)  # (4.5 - 3.5) / 0.1
    assert ledger.steps[1].before_k is None  # it was not settled when this step began


@pytest.mark.parametrize(
    ("before_k", "mass_kg", "after_k"),
    [
        (None, 0.1, 3.5),  # nothing to compare with
        (2.0, None, 3.5),  # nobody said how much
        (2.0, 0.01, 2.2),  # too little to learn from
        (0.4, 0.1, 3.5),  # no liquid seal before
        (2.0, -0.1, 0.5),  # none after
    ],
)
def test_what_teaches_nothing(
    before_k: float | None, mass_kg: float | None, after_k: float
) -> None:
    ledger = Ledger(2.0)
    if before_k is not None:
        ledger.settled(before_k)
    learn(ledger, mass_kg, after_k, 100.0)
    assert ledger.steps[0].after_k == after_k
    assert ledger.steps[0].gain_k_per_kg is None


def test_a_recovery_teaches_too() -> None:
    ledger = Ledger(2.0)
    ledger.settled(6.5)
    learn(ledger, -0.1, 5.0, 100.0)
    assert ledger.steps[0].gain_k_per_kg == pytest.approx(15.0)


def test_an_amount_said_late_does_not_spoil_the_next_gain() -> None:
    ledger = Ledger(2.0)
    ledger.settled(2.0)
    learn(ledger, None, 3.5, 100.0)
    ledger.take(ended(400.0, 0.1))
    learn(ledger, 0.1, 5.0, 500.0)
    assert ledger.steps[1].gain_k_per_kg == pytest.approx(15.0)


def test_an_unknown_amount_before_settling_is_learnt_from_once_said() -> None:
    ledger = Ledger(2.0)
    ledger.settled(2.0)
    learn(ledger, None, None, 100.0)
    ledger.take(ended(200.0, 0.1))
    ledger.settled(3.5)
    assert ledger.steps[0].gain_k_per_kg == pytest.approx(15.0)


def test_nothing_is_learnt_across_a_probe_that_was_put_right() -> None:
    """Its readings before and after differ by its error, which is no work of the refrigerant."""
    ledger = Ledger(2.0)
    ledger.settled(3.0)
    ledger.probe_changed()  # reads 1.5 K more from now on
    learn(ledger, 0.1, 6.0, 100.0)
    assert ledger.steps[0].gain_k_per_kg is None
    assert ledger.steps[0].before_k is None
    learn(ledger, 0.1, 7.5, 200.0)
    assert ledger.steps[1].gain_k_per_kg == pytest.approx(15.0)


def test_nor_from_a_step_whose_probe_was_put_right_before_it_settled() -> None:
    ledger = Ledger(2.0)
    ledger.settled(3.0)
    learn(ledger, 0.1, None, 100.0)
    ledger.probe_changed()
    ledger.settled(6.0)
    (step,) = ledger.steps
    assert (step.before_k, step.after_k, step.gain_k_per_kg) == (3.0, 6.0, None)
    assert step.probe_changed


@pytest.mark.parametrize(
    "cause", ["unannounced", "rising", "falling", "not_proven", "too_early", "at_rest"]
)
def test_nothing_is_learnt_from_a_level_that_was_left_without_a_step(cause: str) -> None:
    """What moved it, a probe or a valve nobody told of, is not what the step did."""
    ledger = Ledger(2.0)
    ledger.settled(3.0)
    ledger.unsettled(cause)
    learn(ledger, 0.1, 6.0, 100.0)
    assert ledger.steps[0].gain_k_per_kg is None
    assert ledger.steps[0].before_k is None
    learn(ledger, 0.1, 7.5, 200.0)
    assert ledger.steps[1].gain_k_per_kg == pytest.approx(15.0)


def test_a_step_that_is_only_told_at_its_end_is_learnt_from() -> None:
    ledger = Ledger(2.0)
    ledger.settled(7.5)
    ledger.take(ended(100.0, -0.1))
    ledger.unsettled("too_early")  # by the step
    ledger.settled(6.0)
    assert ledger.steps[0].gain_k_per_kg == pytest.approx(15.0)
