"""Compute the plant's property file (``python -m chargeassist.plant.build_properties > file``).

A tool, not part of the running program: the only module of the plant that imports CoolProp. The
document goes to standard output, to be redirected to ``chargeassist/plant/property_table.json``;
with ``--check`` the shipped file is compared instead.

Saturation lines are walked as the saturation table's are. States beside them never come from a
flash, which fails for blends: temperature is given, the density is found here by the secant method
on the explicit p(rho, T) of the equation of state, starting from the neighbouring state, and
accepted only when it reproduces the pressure.
"""

import argparse
import json
import math
import sys
from collections.abc import Callable, Sequence
from typing import Any, Final

import CoolProp
import numpy as np

from chargeassist.model.errors import ChargeAssistError
from chargeassist.model.units import kelvin_from_fahrenheit
from chargeassist.physics.build_tables import (
    BLENDS,
    PSEUDO_PURE,
    BuildError,
    State,
    critical_point,
    grid,
    new_state,
    require_coolprop,
    walk,
)
from chargeassist.physics.curve import FloatArray
from chargeassist.physics.table import content_hash
from chargeassist.plant import property_table
from chargeassist.plant.reference_compressor import (
    FLOW_R410A,
    MAP_SUPERHEAT_K,
    POWER_R410A,
    polynomial,
)

REFRIGERANTS: Final = ("R-22", "R-32", "R-407C", "R-410A", "R-454B")
NODE_COUNT: Final = 193
LOW_PA_ABS: Final = 60_000.0
HIGH_FRACTION: Final = 0.93
"""Share of the critical pressure where the tables end; pressure switches open well below."""

SUPERHEATS_K: Final = (2.0, 5.0, 9.0, 14.0, 20.0, 28.0, 38.0, 50.0, 65.0, 80.0)
SUBCOOLINGS_K: Final = (1.0, 3.0, 6.0, 10.0, 15.0, 20.0)
"""Where the polynomials beside the saturation lines are fitted [K]."""

SIGNIFICANT: Final = 10


def density(state: State, pressure_pa_abs: float, temp_k: float, guess: float, phase: int) -> float:
    """Return the density that gives a pressure at a temperature, and leave `state` there [kg/m3].

    Raises
    ------
    BuildError
        The secant method did not reproduce the pressure within 1e-9 of it.
    """
    state.specify_phase(phase)

    def miss(rho: float) -> float:
        try:
            state.update(CoolProp.DmassT_INPUTS, rho, temp_k)
        except ValueError as exc:
            raise BuildError(
                f"no density at {pressure_pa_abs:.6g} Pa and {temp_k:.4f} K: {exc}"
            ) from exc
        return float(state.p()) - pressure_pa_abs

    rho, other = guess, guess * 1.0005
    f, f_other = miss(rho), miss(other)
    for _ in range(60):
        if abs(f) <= 1e-9 * pressure_pa_abs:
            return rho
        if f == f_other:
            break
        step = f * (rho - other) / (f - f_other)
        step = min(max(step, -0.05 * rho), 0.05 * rho)
        other, f_other = rho, f
        rho -= step
        f = miss(rho)
    raise BuildError(f"no density at {pressure_pa_abs:.6g} Pa and {temp_k:.4f} K")


def build_entry(name: str) -> dict[str, Any]:
    """Return what the file holds of one refrigerant.

    Raises
    ------
    BuildError
        A state could not be computed.
    """
    state = new_state(name)
    mixture = name in BLENDS and name not in PSEUDO_PURE
    critical_pa, _ = critical_point(state, mixture=mixture)
    low, high = LOW_PA_ABS, math.floor(HIGH_FRACTION * critical_pa / 1000.0) * 1000.0
    pressures = grid(low, high, NODE_COUNT)
    bubble = walk(state, 0.0, pressures, mixture=mixture)
    dew = walk(state, 1.0, pressures, mixture=mixture)
    rows = [_node(state, p, b, d) for p, b, d in zip(pressures, bubble, dew, strict=True)]
    entry: dict[str, Any] = {"low_pa_abs": low, "high_pa_abs": high}
    for column, values in zip(property_table.COLUMNS, zip(*rows, strict=True), strict=True):
        entry[column] = [_rounded(v) for v in values]
    return entry


def _node(
    state: State, p: float, bubble: tuple[float, float], dew: tuple[float, float]
) -> tuple[float, ...]:
    (t_b, rho_b), (t_d, rho_d) = bubble, dew
    density(state, p, t_b, rho_b, CoolProp.iphase_liquid)
    h_b = float(state.hmass())
    density(state, p, t_d, rho_d, CoolProp.iphase_gas)
    h_d = float(state.hmass())

    rho, above, volume = rho_d, [], []
    t_before = t_d
    for superheat in SUPERHEATS_K:
        guess = rho * t_before / (t_d + superheat)
        rho = density(state, p, t_d + superheat, guess, CoolProp.iphase_gas)
        t_before = t_d + superheat
        above.append(float(state.hmass()) - h_d)
        volume.append(rho_d / rho - 1.0)
    below, ratio = [], []
    rho = rho_b
    for subcooling in SUBCOOLINGS_K:
        rho = density(state, p, t_b - subcooling, rho * 1.005, CoolProp.iphase_liquid)
        below.append(h_b - float(state.hmass()))
        ratio.append(rho / rho_b - 1.0)
    state.unspecify_phase()
    superheats, subcoolings = np.array(SUPERHEATS_K), np.array(SUBCOOLINGS_K)
    return (
        t_b, t_d, h_b, h_d, rho_b, rho_d,
        *_through_zero(np.array(above), superheats, 3),
        *_through_zero(np.array(above), np.array(volume), 3),
        *_through_zero(np.array(below), subcoolings, 2),
        *_through_zero(np.array(below), np.array(ratio), 2),
    )  # fmt: skip


def _through_zero(x: FloatArray, y: FloatArray, order: int) -> list[float]:
    """Return the coefficients of x, x^2, ... that fit y with even relative weight."""
    scale = float(x[-1])
    u = x / scale
    powers = np.stack([u**k for k in range(1, order + 1)], axis=1)
    # The weight y^-1/2 keeps the small distances, where most states lie, as good as the large.
    weight = 1.0 / np.sqrt(np.abs(y))
    solved = np.linalg.lstsq(powers * weight[:, None], y * weight, rcond=None)[0]
    return [float(c) / scale**k for k, c in enumerate(solved, start=1)]


class _Compression:
    """Suction density and isentropic work of one refrigerant by dew temperatures."""

    def __init__(self, name: str) -> None:
        self._state = new_state(name)
        self._mixture = name in BLENDS and name not in PSEUDO_PURE
        critical_pa, _ = critical_point(self._state, mixture=self._mixture)
        self._pressures = grid(LOW_PA_ABS, 0.9 * critical_pa, 401)
        line = walk(self._state, 1.0, self._pressures, mixture=self._mixture)
        self._temps = np.array([t for t, _ in line])
        self._densities = [rho for _, rho in line]
        self._suction: dict[float, tuple[float, float, float, float]] = {}

    def _dew(self, temp_k: float) -> tuple[float, float]:
        log_p = float(np.interp(temp_k, self._temps, np.log(self._pressures)))
        return math.exp(log_p), float(np.interp(temp_k, self._temps, self._densities))

    def work_and_density(self, suction_k: float, discharge_k: float) -> tuple[float, float]:
        """Return isentropic work [J/kg] and suction density [kg/m3] at 20 °F of superheat."""
        if suction_k not in self._suction:
            p, rho = self._dew(suction_k)
            inlet_k = suction_k + MAP_SUPERHEAT_K
            rho = density(self._state, p, inlet_k, rho * 0.95, CoolProp.iphase_gas)
            self._suction[suction_k] = (
                rho, float(self._state.hmass()), float(self._state.smass()), inlet_k
            )  # fmt: skip
        rho_s, h_s, s_s, inlet_k = self._suction[suction_k]
        p_out, rho = self._dew(discharge_k)

        def entropy_miss(temp_k: float) -> float:
            guess = rho * discharge_k / temp_k
            density(self._state, p_out, temp_k, guess, CoolProp.iphase_gas)
            return float(self._state.smass()) - s_s

        low, high = discharge_k, discharge_k + 120.0
        if entropy_miss(low) > 0.0:
            raise BuildError("isentropic compression ends wet; no such point in the map")
        for _ in range(60):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if entropy_miss(middle) < 0.0 else (low, middle)
        entropy_miss(0.5 * (low + high))
        return float(self._state.hmass()) - h_s, rho_s


def fitted_maps(name: str) -> tuple[list[float], list[float], float]:
    """Return the ten-coefficient flow and power maps of a refrigerant and the worst misfit.

    The published map is of R-410A. For another refrigerant the same compressor is assumed to keep
    its volumetric and isentropic efficiency at the same dew temperatures (an assumption), so flow
    goes with suction density and power with flow times isentropic work; the result is fitted in
    the same form; dew temperatures [°F], flow [lb/h], power [W]. The misfit is the largest relative
    one over the grid [1].
    """
    if name == "R-410A":
        return list(FLOW_R410A), list(POWER_R410A), 0.0
    base, other = _Compression("R-410A"), _Compression(name)
    terms, flows, powers = [], [], []
    for s_f in range(-10, 61, 5):
        for d_f in range(max(70, s_f + 25), 156, 5):
            s_k, d_k = kelvin_from_fahrenheit(s_f), kelvin_from_fahrenheit(d_f)
            work_0, rho_0 = base.work_and_density(s_k, d_k)
            work_1, rho_1 = other.work_and_density(s_k, d_k)
            s, d = float(s_f), float(d_f)
            terms.append([1, s, d, s * s, s * d, d * d, s**3, d * s * s, s * d * d, d**3])
            flows.append(polynomial(FLOW_R410A, s, d) * rho_1 / rho_0)
            powers.append(polynomial(POWER_R410A, s, d) * rho_1 * work_1 / (rho_0 * work_0))
    x = np.array(terms, dtype=np.float64)
    worst = 0.0
    maps = []
    for values in (np.array(flows), np.array(powers)):
        weighted = x / values[:, None]
        scale = np.abs(weighted).max(axis=0)
        solved = np.linalg.lstsq(weighted / scale, np.ones(len(values)), rcond=None)[0] / scale
        worst = max(worst, float(np.abs(x @ solved / values - 1.0).max()))
        maps.append([_rounded(float(c)) for c in solved])
    return maps[0], maps[1], worst


def build_document(tell: Callable[[str], object]) -> dict[str, Any]:
    """Return the whole document, its hash filled in; `tell` is given a line per refrigerant."""
    require_coolprop(CoolProp.__version__)
    entries = {}
    for name in REFRIGERANTS:
        entry = build_entry(name)
        entry["flow_map"], entry["power_map"], worst = fitted_maps(name)
        entry["map_misfit"] = _rounded(worst)
        entries[name] = entry
        tell(f"{name}: {len(entry['bubble_temp_k'])} nodes, compressor map within {worst:.2%}\n")
    document: dict[str, Any] = {
        "format": property_table.FORMAT,
        "format_version": property_table.FORMAT_VERSION,
        "coolprop_version": CoolProp.__version__,
        "coolprop_revision": CoolProp.__gitrevision__,
        "refrigerants": entries,
    }
    document["sha256"] = content_hash(document)
    return document


def _rounded(value: float) -> float:
    return float(f"{value:.{SIGNIFICANT}g}")


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the document to standard output, or with ``--check`` compare it with the shipped one.

    Returns
    -------
    int
        0: written, or the shipped file is the same; 1: it is not; 2: the build failed.
    """
    parser = argparse.ArgumentParser(prog="python -m chargeassist.plant.build_properties")
    parser.add_argument("--check", action="store_true", help="compare with the shipped file")
    options = parser.parse_args(arguments)
    try:
        document = build_document(sys.stderr.write)
        if options.check:
            shipped = property_table.document()["sha256"]
            same = shipped == document["sha256"]
            sys.stdout.write(f"{'the same' if same else 'NOT the same'}: SHA-256 {shipped}\n")
            return 0 if same else 1
    except ChargeAssistError as exc:
        sys.stderr.write(f"error: {exc}\n")
        return 2
    rows = ",\n".join(
        f"{json.dumps(name)}: {json.dumps(entry, separators=(',', ':'), allow_nan=False)}"
        for name, entry in document.pop("refrigerants").items()
    )
    head = ",\n".join(f"{json.dumps(key)}: {json.dumps(value)}" for key, value in document.items())
    sys.stdout.write(f'{{\n{head},\n"refrigerants": {{\n{rows}\n}}\n}}\n')
    return 0


if __name__ == "__main__":
    sys.exit(main())
