"""The number line: its axis, and where things land on it. Values are invented."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.display import UnitSystem
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Forecast, Measured, Settling
from chargeassist.tui.pen import Pen
from chargeassist.tui.preview import add, moving
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.number_line import GUTTER, NumberLine, line_scale


def rows(snapshot: Snapshot, width: int = 110, *, unicode: bool = True) -> dict[str, str]:
    """Return the drawn rows by their word."""
    scene = Scene(
        job=snapshot.job,
        mode=snapshot.mode,
        replayed=False,
        snapshot=snapshot,
        system=UnitSystem.SI,
        pen=Pen(unicode=unicode),
    )
    text = NumberLine(scene).draw(scene, width, 5).plain
    return {line[:GUTTER].strip(): line[GUTTER:] for line in text.split("\n")}


def value_at(column: int, drawn: dict[str, str]) -> float:
    """Return the value that the drawn labels give a column, as a reader would interpolate it."""
    axis = drawn["target"]
    labels = [float(label) for label in drawn["K"].replace("−", "-").split()]
    last = len(axis) - 1
    return labels[0] + (labels[-1] - labels[0]) * column / last


def test_marks_stand_where_the_labels_say() -> None:
    base = add()
    measured = Measured(value_k=5.2, expanded_k=0.5)
    drawn = rows(replace(base, facts=replace(base.facts, subcooling=measured)))
    cell = abs(value_at(1, drawn) - value_at(0, drawn))
    now = drawn["now"]
    assert value_at(now.index("◆"), drawn) == pytest.approx(5.2, abs=cell)
    assert value_at(now.index("├"), drawn) == pytest.approx(4.7, abs=cell)
    assert value_at(now.index("┤"), drawn) == pytest.approx(5.7, abs=cell)
    assert value_at(drawn["settled"].index("■"), drawn) == pytest.approx(3.7, abs=cell)
    band = drawn["target"]
    assert value_at(band.index("█"), drawn) == pytest.approx(4.2, abs=cell)
    assert value_at(band.rindex("█"), drawn) == pytest.approx(5.8, abs=cell)
    assert value_at(drawn["steps"].index("1"), drawn) == pytest.approx(2.4, abs=cell)
    assert value_at(drawn["steps"].index("2"), drawn) == pytest.approx(3.7, abs=cell)


def test_a_wild_forecast_ends_in_arrows_and_does_not_squeeze_the_rest() -> None:
    base = moving()
    wild = Forecast(value_k=4.0, low_k=-40.0, high_k=90.0)
    facts = replace(base.facts, settling=replace(base.facts.settling, forecast=wild))
    drawn = rows(replace(base, facts=facts))
    assert drawn["forecast"].startswith("◀")
    assert drawn["forecast"].rstrip().endswith("▶")
    assert drawn["target"].count("█") > 10


def test_what_is_not_there_is_said() -> None:
    base = moving()
    facts = replace(base.facts, subcooling=NoValue("no pressure"), settling=Settling())
    drawn = rows(replace(base, facts=facts))
    assert drawn["now"].strip() == "no signal: no pressure"
    assert drawn["forecast"].strip() == "none yet"


def test_the_newest_step_keeps_its_place_beside_a_close_one() -> None:
    base = add()
    first, second = base.facts.ledger
    close = (replace(first, after_k=3.66), second, replace(second, number=3, after_k=None))
    drawn = rows(replace(base, facts=replace(base.facts, ledger=close)))
    assert drawn["steps"].split() == ["2"]


def test_ascii_draws_with_ascii_alone() -> None:
    assert "".join(rows(add(), unicode=False).values()).isascii()
    assert "".join(rows(moving(), unicode=False).values()).isascii()


@given(
    st.lists(st.floats(-60, 120), min_size=1, max_size=8),
    st.integers(min_value=30, max_value=240),
)
def test_the_axis_holds_every_value_and_its_labels_fit(values: list[float], width: int) -> None:
    scale = line_scale(values, width)
    assert all(0 <= scale.column(value) <= width - 1 for value in values)
    ticks = scale.ticks()
    assert ticks[0] == pytest.approx(scale.low)
    assert ticks[-1] == pytest.approx(scale.high)
    columns = [scale.column(tick) for tick in ticks]
    assert all(right - left >= 4 for left, right in pairwise(columns))


def test_the_axis_stands_still_while_values_move_a_little() -> None:
    scales = {line_scale([3.4 + 0.001 * i, 6.6], 70) for i in range(100)}
    assert len(scales) == 1
