"""The picture of a charging session: what was so, what was read, what was done and advised."""

from itertools import pairwise
from typing import Final

from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Advice, SessionStopped
from chargeassist.model.units import KELVIN_PER_FAHRENHEIT, PASCAL_PER_PSI
from chargeassist.pictures.frame import FAINT, FOURTH, OTHER, READ, THIRD, TRUE, Frame
from chargeassist.pictures.told import Told, scaled
from chargeassist.stream.facts import SettleState, TargetFacts

_HATCH: Final = {
    Action.WAIT: ("#F2F2F2", ""),
    Action.ADD: ("#9BD0F0", "//"),
    Action.STOP: ("#8FD6B8", ""),
    Action.RECOVER: ("#F4D58D", "\\\\"),
    Action.FIX_FIRST: ("#F2B48F", "xx"),
    Action.DO: ("#D9CCE8", ".."),
}
"""Colour and hatching of each instruction."""

_LEAST_NAMED: Final = 0.045
"""Share of the session from which an instruction is named inside its bar."""


def charging_picture(told: Told, system: UnitSystem) -> Frame:
    """Return the picture of a scenario of the charging stage.

    Parameters
    ----------
    told : Told
    system : UnitSystem
        Of temperature differences and pressures; masses are in kg.
    """
    scenario = told.scenario
    frame = Frame(scenario.title, scenario.about, (1.5, 1.0, 1.2, 1.0, 0.35))
    us = system is UnitSystem.US
    kelvin, degree = (KELVIN_PER_FAHRENHEIT, "°F") if us else (1.0, "K")
    pascal, unit = (PASCAL_PER_PSI, "psi gauge") if us else (1e3, "kPa gauge")
    _judged(frame, told, kelvin, degree)
    _witness(frame, told, kelvin, degree)
    _pressures(frame, told, pascal, unit)
    _machine(frame, told)
    _advice(frame, told)
    frame.mark(told.marks)
    return frame


def _judged(frame: Frame, told: Told, kelvin: float, degree: str) -> None:
    panel, target = frame.panels[0], told.scenario.job.target
    goals = [(s.t / 60.0, s.facts.goal(target)) for s in told.snapshots]
    bands = [(t, goal) for t, goal in goals if isinstance(goal, TargetFacts)]
    panel.fill_between(
        [t for t, _ in bands],
        [goal.low_k / kelvin for _, goal in bands],
        [goal.high_k / kelvin for _, goal in bands],
        color="#DFF2E9", label="target",
    )  # fmt: skip
    settled = [
        (before.t / 60.0, (after.t - before.t) / 60.0)
        for before, after in pairwise(told.snapshots)
        if before.facts.settling.state is SettleState.SETTLED
    ]
    shown = scaled(told.shown(lambda s: s.facts.reading), kelvin)
    so = scaled(told.true(target.judged.figure), kelvin)
    panel.plot(*shown, color=READ, linewidth=0.8, label="read")
    panel.plot(*so, color=TRUE, linewidth=1.2, linestyle="--", label="true")
    if settled:
        panel.broken_barh(
            settled, (0.0, 0.025), color=TRUE, transform=panel.get_xaxis_transform(),
            label="called settled",
        )  # fmt: skip
    panel.set_ylabel(f"{target.judged.name}, {degree}", fontsize=8.0)
    frame.legend(panel, "upper left", 4)


def _witness(frame: Frame, told: Told, kelvin: float, degree: str) -> None:
    panel, witness = frame.panels[1], told.scenario.job.target.witness
    shown = scaled(told.shown(lambda s: s.facts.value(witness)), kelvin)
    panel.plot(*shown, color=READ, linewidth=0.8, label="read")
    panel.plot(
        *scaled(told.true(witness.figure), kelvin), color=TRUE, linewidth=1.2, linestyle="--",
        label="true",
    )  # fmt: skip
    panel.set_ylabel(f"{witness.name}, {degree}", fontsize=8.0)


def _pressures(frame: Frame, told: Told, pascal: float, unit: str) -> None:
    panel = frame.panels[2]
    station_pa_abs = told.snapshots[-1].facts.station_pa_abs if told.snapshots else 0.0
    for role, colour, word in (
        (Role.LIQUID_PRESSURE, OTHER, "liquid"), (Role.SUCTION_PRESSURE, READ, "suction")
    ):  # fmt: skip
        panel.plot(*scaled(told.read(role), pascal), color=colour, linewidth=0.8, label=word)
        minutes, so = told.true(f"{role.value}_pa_abs")
        gauge = [(value - station_pa_abs) / pascal for value in so]
        panel.plot(minutes, gauge, color=TRUE, linewidth=0.8, linestyle="--")
    panel.set_ylim(bottom=0.0)
    panel.set_ylabel(f"pressure, {unit}", fontsize=8.0)
    frame.legend(panel, "center right", 2)


def _machine(frame: Frame, told: Told) -> None:
    panel, job = frame.panels[3], told.scenario.job
    panel.plot(
        *told.true("circuit_kg"), color=TRUE, linewidth=1.2, linestyle="--", label="in circuit"
    )
    panel.axhline(job.charge.plate_kg, color=FAINT, linewidth=0.8, label="plate")
    panel.set_ylabel("charge, kg", fontsize=8.0)
    panel.margins(y=0.25)
    frame.legend(panel, "upper left", 2)
    right = panel.twinx()
    right.spines["top"].set_visible(False)
    right.plot(*told.true("frequency_hz"), color=THIRD, linewidth=1.0, label="compressor, Hz")
    amps = told.read(Role.COMPRESSOR_CURRENT)
    right.plot(
        amps[0], [5.0 * value for value in amps[1]], color=FOURTH, linewidth=0.8,
        label="amps, fifths",
    )  # fmt: skip
    right.set_ylim(bottom=0.0)
    right.tick_params(labelsize=7.5)
    frame.legend(right, "lower right", 2)


def _advice(frame: Frame, told: Told) -> None:
    panel = frame.panels[4]
    said = [event for event in told.events if isinstance(event, Advice | SessionStopped)]
    whole = said[-1].t / 60.0 if said else 1.0
    for event, following in pairwise(said):
        if not isinstance(event, Advice):
            continue
        begin, length = event.t / 60.0, (following.t - event.t) / 60.0
        colour, hatch = _HATCH[event.action]
        panel.broken_barh(
            [(begin, length)], (0.0, 1.0), facecolor=colour, hatch=hatch, edgecolor="white"
        )
        if length > _LEAST_NAMED * whole:
            panel.text(begin + length / 2.0, 0.5, event.action.value, fontsize=6.5,
                       ha="center", va="center")  # fmt: skip
    panel.set_ylim(0.0, 1.0)
    panel.set_yticks([])
    panel.set_ylabel("advice", fontsize=8.0)
    panel.set_xlim(0.0, whole)
