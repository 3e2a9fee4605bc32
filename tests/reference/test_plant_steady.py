"""The physical plant at rest against an independent steady solution of the same machine.

Independent are: the properties (CoolProp asked directly, no table), the void fraction (numerical
quadrature), the root finder (scipy), the units and the way through the equations. Common are the
machine's coefficients and the assumptions named in the modules. So this finds errors of tables,
zones, stepping and bookkeeping; whether the machine is like a real one is for the published
figures.
"""

import math
from dataclasses import dataclass
from functools import cache
from typing import Any

import CoolProp
import pytest
from CoolProp.CoolProp import AbstractState
from scipy.integrate import quad
from scipy.optimize import brentq, root

from chargeassist.plant.physical import PhysicalPlant
from chargeassist.plant.physical_settings import PhysicalSettings
from chargeassist.plant.property_table import fluid
from chargeassist.plant.unit import Unit

PSI = 6894.757293168361
POUND_KG = 0.45359237


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) / 1.8


def fahrenheit(temp_k: float) -> float:
    return temp_k * 1.8 - 459.67


@dataclass(frozen=True)
class Point:
    temp: float
    h: float
    rho: float


class Substance:
    """CoolProp with the phase imposed, so that no flash chooses it."""

    def __init__(self, name: str) -> None:
        if name == "R-454B":
            self._state: Any = AbstractState("HEOS", "R32&R1234yf")
            self._state.set_mass_fractions([0.689, 0.311])
        else:
            self._state = AbstractState("HEOS", name.replace("-", ""))

    def _point(self) -> Point:
        s = self._state
        return Point(s.T(), s.hmass(), s.rhomass())

    def saturated(self, p: float, quality: float) -> Point:
        self._state.unspecify_phase()
        self._state.update(CoolProp.PQ_INPUTS, p, quality)
        return self._point()

    def gas(self, p: float, temp: float) -> Point:
        self._state.specify_phase(CoolProp.iphase_gas)
        self._state.update(CoolProp.PT_INPUTS, p, temp)
        return self._point()

    def liquid(self, p: float, temp: float) -> Point:
        self._state.specify_phase(CoolProp.iphase_liquid)
        self._state.update(CoolProp.PT_INPUTS, p, temp)
        return self._point()

    def gas_at(self, p: float, h: float) -> Point:
        dew = self.saturated(p, 1.0)
        found = brentq(lambda t: self.gas(p, t).h - h, dew.temp, dew.temp + 120.0, xtol=1e-9)
        return self.gas(p, found)

    def liquid_at(self, p: float, h: float) -> Point:
        bubble = self.saturated(p, 0.0)
        found = brentq(lambda t: self.liquid(p, t).h - h, bubble.temp - 40.0, bubble.temp)
        return self.liquid(p, found)

    def bubble_pressure(self, temp: float) -> float:
        found: float = brentq(lambda p: self.saturated(p, 0.0).temp - temp, 2e5, 4.4e6)
        return found

    def vapour_cp(self, p: float, dew: Point) -> float:
        return (self.gas(p, dew.temp + 2.0).h - dew.h) / 2.0


def void(rl: float, rg: float, x1: float, x2: float) -> float:
    """Mean Zivi void fraction by quadrature."""

    def local(x: float) -> float:
        return 1.0 / (1.0 + (1.0 - x) / x * (rg / rl) ** (2.0 / 3.0)) if x > 0.0 else 0.0

    return float(quad(local, x1, x2, epsabs=1e-11)[0]) / (x2 - x1)


def moist_h(temp: float, w: float) -> float:
    t = temp - 273.15
    return 1006.0 * t + w * (2501000.0 + 1860.0 * t)


def saturated_w(temp: float) -> float:
    t = temp - 273.15
    p = 610.94 * math.exp(17.625 * t / (t + 243.04))
    return 0.621945 * p / (101325.0 - p)


def ten(c: tuple[float, ...], s: float, d: float) -> float:
    terms = [1, s, d, s * s, s * d, d * d, s**3, d * s * s, s * d * d, d**3]
    return sum(a * b for a, b in zip(c, terms, strict=True))


def steady(
    name: str, u: Unit, case: dict[str, float], guess: list[float]
) -> tuple[dict[str, float], float]:
    """Return readings of the machine at rest, and the largest scaled residual."""
    sub = substance(name)
    maps = fluid(name)
    outdoor, dry, wet, hz = case["outdoor"], case["dry"], case["wet"], case["hz"]
    ws = saturated_w(wet)
    t, tw = dry - 273.15, wet - 273.15
    w_in = ((2501.0 - 2.326 * tw) * ws - 1.006 * (t - tw)) / (2501.0 + 1.86 * t - 4.186 * tw)
    m_ref = u.flow_kg_per_s
    out: dict[str, float] = {}

    def residual(v: list[float]) -> list[float]:
        pc, pe, m = v[0] * 1e6, v[1] * 1e6, v[2] * m_ref
        shell, wall_c, wall_e, boiling, sub_share = v[3:]
        b, d = sub.saturated(pc, 0.0), sub.saturated(pc, 1.0)
        be, de = sub.saturated(pe, 0.0), sub.saturated(pe, 1.0)
        q = (m / m_ref) ** 2
        p_dis = pc + u.condenser_drop_pa * q
        p_suc = pe - u.suction_line_drop_pa * q * u.suction_kg_per_m3 / de.rho
        # Liquid side of the condenser, to know what enters the evaporator.
        capacity = u.condenser_air_w_per_k * sub_share
        cp_l = (b.h - sub.liquid(pc, b.temp - 5.0).h) / 5.0
        c_min, c_max = sorted((capacity, m * cp_l))
        ratio, ntu = c_min / c_max, u.subcooling_w_per_k * sub_share / c_min
        eff = 1.0 - math.exp(ntu**0.22 / ratio * (math.exp(-ratio * ntu**0.78) - 1.0))
        exit_ = sub.liquid_at(pc, b.h - eff * c_min * (b.temp - outdoor) / m)
        loss = 1.0 - math.exp(-u.liquid_line_w_per_k / (m * cp_l))
        line = sub.liquid_at(pc, exit_.h - cp_l * (exit_.temp - outdoor) * loss)
        x_in = (line.h - be.h) / (de.h - be.h)
        boil = be.temp + 0.5 * (1.0 + x_in) * (de.temp - be.temp)
        # Evaporator outlet and suction line.
        ntu = u.superheating_w_per_k * (1.0 - boiling) / (m * sub.vapour_cp(pe, de))
        outlet = sub.gas(pe, dry - (dry - de.temp) * math.exp(-ntu))
        gain = u.suction_line_w_per_k * (outdoor - outlet.temp)
        suction = sub.gas_at(p_suc, outlet.h + gain / m)
        dew_s, dew_d = sub.saturated(p_suc, 1.0), sub.saturated(p_dis, 1.0)
        # Compressor.
        density = min(suction.rho / sub.gas(p_suc, dew_s.temp + 100.0 / 9.0).rho, 1.12)
        factor = 1.0 + 0.75 * (density - 1.0)
        share = hz / u.base_hz
        s_f, d_f = fahrenheit(dew_s.temp), fahrenheit(dew_d.temp)
        size = u.displacement * factor * share
        m_map = ten(maps.flow_map, s_f, d_f) * POUND_KG / 3600.0 * size
        m_map *= 1.0 + u.flow_loss * (1.0 - 1.0 / share)
        work = ten(maps.power_map, s_f, d_f) * size / density
        work *= 1.0 + u.power_rise * (share - 1.0) ** 2
        hot = sub.gas(pc, shell)
        shell_balance = work + m * (suction.h - hot.h) - u.shell_w_per_k * (shell - outdoor)
        # Condenser.
        near = max(d.temp - outdoor, 1.0)
        capacity_v = m * (hot.h - d.h) / (shell - d.temp)
        desup = capacity_v / u.desuperheating_w_per_k * math.log((shell - outdoor) / near)
        two = 1.0 - desup - sub_share
        to_wall = u.condensing_w_per_k * two * (0.5 * (b.temp + d.temp) - wall_c)
        air = u.condenser_air_w_per_k
        to_air = (
            two * air * (1 - math.exp(-u.condenser_air_side_w_per_k / air)) * (wall_c - outdoor)
        )
        # Evaporator.
        w_wall = saturated_w(wall_e)
        drop = (
            moist_h(dry, w_in) - moist_h(wall_e, w_wall)
            if w_wall < w_in
            else 1020.0 * (dry - wall_e)
        )
        from_air = u.indoor_air_kg_per_s * boiling * (1.0 - u.bypass) * drop
        to_boil = u.boiling_w_per_k * boiling * (wall_e - boil)
        # Valve at rest: the bulb is as warm as the outlet.
        opening = (outlet.temp - de.temp - u.valve_static_k) / (
            u.valve_superheat_k - u.valve_static_k
        )
        opening = min(max(opening, u.opening_min), u.opening_max)
        p_valve = pc - u.liquid_line_drop_pa * q
        boil_line = sub.saturated(p_valve, 0.0)
        if line.h > boil_line.h:
            gas_line = sub.saturated(p_valve, 1.0)
            x = (line.h - boil_line.h) / (gas_line.h - boil_line.h)
            rho_v = boil_line.rho / (1 + x * (boil_line.rho / gas_line.rho - 1)) ** (
                2 * u.flash_exponent
            )
        else:
            rho_v = sub.liquid_at(p_valve, line.h).rho
        area = u.flow_kg_per_s / math.sqrt(2.0 * u.valve_kg_per_m3 * u.valve_drop_pa)
        m_valve = area * opening * math.sqrt(2.0 * rho_v * (p_valve - pe))
        # Charge.
        g = void(b.rho, d.rho, 0.0, 1.0)
        tp = b.rho * (1.0 - g) + d.rho * g
        sh = sub.gas_at(pc, d.h + 0.45 * (hot.h - d.h)).rho
        sc = sub.liquid_at(pc, 0.5 * (b.h + exit_.h)).rho
        condenser = u.condenser_m3 * (desup * sh + two * tp + sub_share * sc)
        g = void(be.rho, de.rho, x_in, 1.0)
        tp = be.rho * (1.0 - g) + de.rho * g
        mean = sub.gas_at(pe, 0.5 * (outlet.h + de.h)).rho
        evaporator = u.evaporator_m3 * (boiling * tp + (1.0 - boiling) * mean)
        sump = sub.bubble_pressure(0.6 * de.temp + 0.4 * shell)
        oil = u.oil_kg * u.oil_solubility * p_suc / sump
        charge = (
            condenser
            + u.liquid_line_m3 * line.rho
            + evaporator
            + u.suction_line_m3 * 0.98 * outlet.rho
            + oil
        )
        port = sub.gas_at(pe, outlet.h + gain / m).temp - de.temp + dew_s.temp
        out.update(
            head_psi=pc / PSI,
            suction_psi=p_suc / PSI,
            subcooling_f=(b.temp - exit_.temp) * 1.8,
            superheat_f=(port - dew_s.temp) * 1.8,
            discharge_f=fahrenheit(shell),
            amps=(work / u.motor_efficiency + u.outdoor_fan_w) / (u.volts * u.power_factor)
            + u.standby_a,
        )
        scale = m_ref * 2e5
        return [
            (m - m_map) / m_ref,
            shell_balance / scale,
            (to_wall - to_air) / scale,
            (m * (d.h - b.h) - to_wall) / scale,
            (from_air - to_boil) / scale,
            (m * (de.h - line.h) - to_boil) / scale,
            (m_valve - m) / m_ref,
            (charge - case["charge"]) / case["charge"],
        ]

    found = root(residual, guess, method="hybr", options={"xtol": 1e-10, "maxfev": 2000})
    worst = max(abs(r) for r in residual(list(found.x)))
    return out, worst


@cache
def substance(name: str) -> Substance:
    return Substance(name)


# Charge [lb of 10.7], outdoor, indoor dry and wet bulb [°F], share of the base frequency.
CASES = [
    ("R-410A", 10.5, 95.0, 80.0, 67.0, 1.0),
    ("R-410A", 11.5, 95.0, 80.0, 67.0, 1.0),
    ("R-410A", 10.5, 72.0, 75.0, 63.0, 1.0),
    ("R-410A", 10.0, 72.0, 75.0, 63.0, 1.0),
    ("R-410A", 10.5, 82.0, 80.0, 67.0, 0.75),
    ("R-410A", 10.5, 105.0, 80.0, 67.0, 1.0),
    ("R-410A", 11.0, 82.0, 80.0, 67.0, 0.5),
    ("R-32", 10.7, 95.0, 80.0, 67.0, 1.0),
    ("R-32", 10.2, 75.0, 75.0, 63.0, 0.75),
    ("R-22", 10.7, 95.0, 80.0, 67.0, 1.0),
    ("R-22", 10.2, 75.0, 75.0, 63.0, 0.75),
    ("R-407C", 10.7, 95.0, 80.0, 67.0, 1.0),
    ("R-407C", 10.2, 75.0, 75.0, 63.0, 0.75),
    ("R-454B", 10.7, 95.0, 80.0, 67.0, 1.0),
    ("R-454B", 10.2, 75.0, 75.0, 63.0, 0.75),
]
# About twice what was found when this was written: 0.07, 0.05, 0.16, 0.012, 0.004, 0.19.
LIMITS = {
    "head_psi": 0.2,
    "suction_psi": 0.1,
    "subcooling_f": 0.3,
    "superheat_f": 0.03,
    "amps": 0.01,
    "discharge_f": 0.4,
}


@pytest.mark.parametrize(("name", "pounds", "outdoor_f", "dry_f", "wet_f", "share"), CASES)
def test_the_plant_comes_to_rest_where_an_independent_solution_does(
    name: str, pounds: float, outdoor_f: float, dry_f: float, wet_f: float, share: float
) -> None:
    settings = PhysicalSettings(
        refrigerant=name,
        capacity_w=17.4e3,
        plate_kg=4.85,
        charge_kg=4.85 * pounds / 10.7,
        required_hz=60.0,
        start_hz=60.0 * share,
        settle_s=2400.0,
        ramp_hz_per_s=20.0,
        outdoor_k=kelvin(outdoor_f),
        return_k=kelvin(dry_f),
        return_wet_k=kelvin(wet_f),
        gust_k=0.0,
        altitude_m=0.0,
    )
    plant = PhysicalPlant(settings)
    plant.run_until(1.0)
    c = plant.circuit
    case = {
        "charge": settings.charge_kg,
        "outdoor": settings.outdoor_k,
        "dry": settings.return_k,
        "wet": settings.return_wet_k,
        "hz": settings.start_hz,
    }
    # Begin away from the plant's answer, so that the answer is found and not handed over.
    guess = [
        c.high.pressure_pa_abs / 1e6 * 1.03,
        c.low.pressure_pa_abs / 1e6 * 0.98,
        c.flow_kg_per_s / c.unit.flow_kg_per_s * 1.02,
        c.discharge_k + 3.0,
        c.high.wall_k + 1.0,
        c.low.wall_k - 1.0,
        c.low.boiling - 0.02,
        c.high.subcooled + 0.02,
    ]
    solved, worst = steady(name, c.unit, case, guess)
    assert worst < 1e-7, "the independent solution did not converge"
    shown = {
        "head_psi": c.head_pa_abs / PSI,
        "suction_psi": c.suction_pa_abs / PSI,
        "subcooling_f": plant.subcooling_k * 1.8,
        "superheat_f": plant.superheat_k * 1.8,
        "amps": plant.current_a,
        "discharge_f": fahrenheit(c.discharge_k),
    }
    assert shown["subcooling_f"] > 0.5  # the case is one with a liquid seal
    print(name, {k: round(shown[k] - solved[k], 4) for k in LIMITS})
    for key, limit in LIMITS.items():
        assert shown[key] == pytest.approx(solved[key], abs=limit), key
