"""Pictures of the stages before charging: a standing pressure test, an evacuation."""

import math

from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import MarkKind
from chargeassist.model.units import (
    KELVIN_AT_0_C,
    KELVIN_PER_FAHRENHEIT,
    PASCAL_PER_PSI,
    PASCAL_PER_TORR,
)
from chargeassist.model.values import NoValue
from chargeassist.physics.nitrogen import expected_pressure_pa_abs
from chargeassist.physics.water_vapour import TRIPLE_POINT_K, saturation_pressure_pa_abs
from chargeassist.pictures.frame import FAINT, FOURTH, OTHER, READ, THIRD, TRUE, Frame
from chargeassist.pictures.told import Series, Told, scaled
from chargeassist.plant.nitrogen_settings import NitrogenSettings

LEAST_STAND_MIN = 10.0
"""A shorter stand is a step of the raise and not drawn by itself [min]."""


def tightness_picture(told: Told, system: UnitSystem) -> Frame:
    """Return the picture of a scenario under nitrogen: pressure, pressure at one temperature.

    The compensated pressure is what it would be had the pipes one temperature all the time, by the
    equation of nitrogen; a falling one is gas that is gone.
    """
    scenario = told.scenario
    frame = Frame(scenario.title, scenario.about, (1.0, 1.6, 1.0, 0.8))
    whole, stand, warmth, gone = frame.panels
    us = system is UnitSystem.US
    pascal, unit = (PASCAL_PER_PSI, "psi") if us else (1e3, "kPa")
    minutes, read = told.read(Role.LIQUID_PRESSURE)
    whole.plot(minutes, [value / pascal for value in read], color=READ, linewidth=0.9)
    whole.set_ylabel(f"pressure, {unit} gauge", fontsize=8.0)

    minutes = told.true("pressure_pa_abs")[0]
    stands = _stands(told, minutes[-1] if minutes else 0.0)
    for number, (begin, end) in enumerate(stands):
        times, bare, at_one = _stand(told, begin, end)
        bare, at_one = [v / pascal for v in bare], [v / pascal for v in at_one]
        stand.plot(times, bare, color=TRUE, linewidth=1.0, linestyle="--",
                   label=None if number else "true, as it is")  # fmt: skip
        stand.plot(times, at_one, color=OTHER, linewidth=1.4,
                   label=None if number else "true, at one temperature")  # fmt: skip
    stand.margins(y=0.15)
    stand.set_ylabel(f"standing, {unit} absolute", fontsize=8.0)
    frame.legend(stand, "upper left", 1)

    for name, colour, style, word in (
        ("outdoor_pipe_k", OTHER, "-", "outdoor pipes"), ("outdoor_k", OTHER, ":", "outdoor air"),
        ("indoor_pipe_k", READ, "-", "indoor pipes"), ("indoor_k", READ, ":", "indoor air"),
        ("outdoor_gas_k", TRUE, "--", "gas outdoors"),
    ):  # fmt: skip
        warmth.plot(*_degrees(told.true(name), us=us), color=colour, linestyle=style, linewidth=1.0,
                    label=word)  # fmt: skip
    warmth.set_ylabel("°F" if us else "°C", fontsize=8.0)
    air = _degrees(told.true("outdoor_pipe_k"), us=us)[1]
    if air:
        warmth.set_ylim(min(air) - 4.0, max(air) + 4.0)
    frame.legend(warmth, "upper left", 5)

    minutes, leaked = told.true("leaked_mol")
    amount = max(told.true("amount_mol")[1], default=1.0)
    gone.plot(minutes, [100.0 * value / amount for value in leaked], color=TRUE, linestyle="--")
    gone.set_ylabel("leaked, %", fontsize=8.0)
    gone.set_ylim(0.0, max(0.2, 110.0 * max(leaked, default=0.0) / amount))
    gone.set_xlim(0.0, minutes[-1] if minutes else 1.0)
    frame.mark(told.marks)
    return frame


def _stands(told: Told, end_min: float) -> list[tuple[float, float]]:
    """Return begin and end of each stand of `LEAST_STAND_MIN` or more, the supply shut [min]."""
    found: list[tuple[float, float]] = []
    begin: float | None = None
    for mark in told.marks:
        if mark.kind is MarkKind.NITROGEN_OFF:
            begin = mark.t / 60.0
        elif mark.kind in {MarkKind.NITROGEN_ON, MarkKind.VENTED} and begin is not None:
            found.append((begin, mark.t / 60.0))
            begin = None
    if begin is not None:
        found.append((begin, end_min))
    return [(first, last) for first, last in found if last - first >= LEAST_STAND_MIN]


def _stand(told: Told, begin: float, end: float) -> tuple[list[float], list[float], list[float]]:
    """Return times [min], pressure, and pressure at one temperature of one stand [Pa absolute].

    The warmth of both parts is weighed by their gas as the scenario has it; the one temperature is
    that in the middle of the stand.
    """
    share = _outdoor_share(told)
    rows = [
        (t, p, share * outdoor + (1.0 - share) * indoor)
        for (t, p), outdoor, indoor in zip(
            zip(*told.true("pressure_pa_abs"), strict=True),
            told.true("outdoor_pipe_k")[1],
            told.true("indoor_pipe_k")[1],
            strict=True,
        )
        if begin <= t < end
    ]
    reference_k = rows[len(rows) // 2][2]
    at_one = [expected_pressure_pa_abs(p, temp_k, reference_k) for _, p, temp_k in rows]
    known = [math.nan if isinstance(value, NoValue) else value for value in at_one]
    return [t for t, _, _ in rows], [p for _, p, _ in rows], known


def _outdoor_share(told: Told) -> float:
    unit = told.scenario.stage_unit
    if unit is None or not isinstance(unit.settings, NitrogenSettings):
        return 0.5
    outdoor, indoor = unit.settings.outdoor.volume_m3, unit.settings.indoor.volume_m3
    return outdoor / (outdoor + indoor)


def dryness_picture(told: Told, system: UnitSystem) -> Frame:
    """Return the picture of an evacuation: pressures on a logarithmic scale, water and ice."""
    scenario = told.scenario
    frame = Frame(scenario.title, scenario.about, (2.2, 1.0, 1.0))
    vacuum, water, cold = frame.panels
    us = system is UnitSystem.US
    pascal, unit = (PASCAL_PER_TORR * 1e-3, "micron") if us else (1.0, "Pa absolute")
    for name, colour, style, word in (
        ("near_pa_abs", THIRD, "-", "true, near"), ("far_pa_abs", TRUE, "--", "true, far"),
        ("far_water_pa_abs", FOURTH, ":", "of it water vapour, far"),
    ):  # fmt: skip
        vacuum.plot(*scaled(told.true(name), pascal), color=colour, linestyle=style, linewidth=1.1,
                    label=word)  # fmt: skip
    vacuum.plot(*scaled(told.read(Role.VACUUM), pascal), color=READ, linewidth=0.9,
                label="gauge")  # fmt: skip
    minutes, temps = told.true("far_water_k")
    over = [saturation_pressure_pa_abs(temp) for temp in temps]
    known = [(t, p / pascal) for t, p in zip(minutes, over, strict=True) if isinstance(p, float)]
    vacuum.plot([t for t, _ in known], [p for _, p in known], color=OTHER, linewidth=0.9,
                linestyle="-.", label="saturated over the far water or ice")  # fmt: skip
    triple = saturation_pressure_pa_abs(TRIPLE_POINT_K)
    if isinstance(triple, float):
        vacuum.axhline(triple / pascal, color=FAINT, linewidth=0.8)
        vacuum.annotate("water freezes below", (0.0, triple / pascal), xytext=(2, 2),
                        textcoords="offset points", fontsize=6.5, color="#555555")  # fmt: skip
    vacuum.set_yscale("log")
    vacuum.set_ylabel(f"pressure, {unit}", fontsize=8.0)
    frame.legend(vacuum, "upper right", 2)

    for name, colour, style, word in (
        ("far_water_kg", TRUE, "-", "far"), ("near_water_kg", THIRD, "--", "near"),
        ("oil_water_kg", OTHER, ":", "in the compressor's oil"),
        ("pump_oil_water_kg", FOURTH, "-.", "in the pump's oil"),
    ):  # fmt: skip
        water.plot(*scaled(told.true(name), 1e-3), color=colour, linestyle=style, label=word)
    water.set_ylabel("water, g", fontsize=8.0)
    water.set_ylim(bottom=0.0)
    frame.legend(water, "upper right", 4)

    cold.plot(*_degrees(told.true("far_water_k"), us=us), color=TRUE, label="far water or wall")
    cold.plot(*_degrees(told.read(Role.SUCTION_TEMPERATURE), us=us), color=READ, linewidth=0.8,
              linestyle=":", label="clamp there")  # fmt: skip
    cold.set_ylabel("°F" if us else "°C", fontsize=8.0)
    ice = cold.twinx()
    ice.plot(*scaled(told.true("far_ice_share"), 0.01), color=OTHER, linestyle="--",
             label="of it ice, %")  # fmt: skip
    ice.set_ylim(0.0, 105.0)
    ice.tick_params(labelsize=7.5)
    frame.legend(ice, "upper right", 1)
    frame.legend(cold, "upper left", 2)
    low, high = cold.get_ylim()
    cold.set_ylim(min(low, high - 5.0), high + 5.0)
    cold.set_xlim(0.0, minutes[-1] if minutes else 1.0)
    frame.mark(told.marks)
    return frame


def _degrees(series: Series, *, us: bool) -> Series:
    scale, zero = (KELVIN_PER_FAHRENHEIT, 32.0) if us else (1.0, 0.0)
    return series[0], [(value - KELVIN_AT_0_C) / scale + zero for value in series[1]]
