"""The examples of the questions, for one who works in °F, psi and oz."""

import pytest

from chargeassist.model.errors import UnitError
from chargeassist.model.units import Quantity, find_unit
from chargeassist.session.job.questions import questions
from chargeassist.session.job.us_examples import US_EXAMPLES

_SI_UNITS = {"K", "°C", "kg", "g", "m", "m2", "kPa", "MPa(g)", "bar"}
_QUANTITIES = (
    Quantity.TEMPERATURE,
    Quantity.TEMPERATURE_DIFFERENCE,
    Quantity.PRESSURE,
    Quantity.MASS,
    Quantity.LENGTH,
    Quantity.AREA,
)


def in_si(text: str, quantity: Quantity) -> float:
    number, _, unit = text.partition(" ")
    return find_unit(unit, quantity).to_si(float(number))


def both(metric: str, ours: str) -> tuple[float, float]:
    for quantity in _QUANTITIES:
        if quantity is Quantity.TEMPERATURE and metric.endswith(" K"):
            continue  # of a job file always a difference
        try:
            return in_si(metric, quantity), in_si(ours, quantity)
        except UnitError:
            continue
    raise AssertionError(f"no quantity has the units of {metric!r} and {ours!r}")


@pytest.mark.parametrize(
    ("metric", "ours"),
    [
        (metric, ours)
        for metric, ours in US_EXAMPLES.items()
        if metric[0].isdigit() and metric.partition(" ")[0] != ours.partition(" ")[0]
    ],
)
def test_both_examples_say_the_same_amount(metric: str, ours: str) -> None:
    for one, other in zip(metric.split("; "), ours.split("; "), strict=True):
        first, second = both(one.partition(" for ")[0], other.partition(" for ")[0])
        assert second == pytest.approx(first, rel=0.14)  # a scale's smallest step is 0.2 oz, 5.7 g
        assert one.partition(" for ")[2] == other.partition(" for ")[2]


def test_who_asked_for_us_units_is_shown_no_others() -> None:
    # 4.2 L stays: the volume of a circuit is typed in whatever the manual says.
    given = {"units": "us", "target.method": "subcooling", "more": "y"}
    given |= {"source.1.adapter": "serial", "source.1.liquid_temperature.unit": "°F"}
    given |= {"line_set.length": "39 ft", "site.altitude": "690 ft"}
    shown = [question for question in questions(given) if not question.choices]
    assert len(shown) > 100
    left = {q.key: q.example for q in shown if q.example.rpartition(" ")[2] in _SI_UNITS}
    assert not left


def test_others_see_the_units_of_the_demonstration() -> None:
    examples = {q.key: q.example for q in questions({"target.method": "subcooling"})}
    assert examples["target.subcooling"] == "5.0 K"
    assert examples["site.altitude"] == "210 m"


@pytest.mark.parametrize("units", ["si", "us"])
@pytest.mark.parametrize("unit", ["kg", "oz", "lb", "g"])
def test_the_range_of_a_probe_is_shown_in_the_unit_that_it_sends(units: str, unit: str) -> None:
    given = {"units": units, "target.method": "subcooling", "more": "y"}
    given |= {"source.1.adapter": "serial", "source.1.cylinder_mass.unit": unit}
    shown = {question.key: question.example for question in questions(given)}
    for key in ("low", "high", "resolution"):
        assert shown[f"source.1.cylinder_mass.{key}"].rpartition(" ")[2] == unit
