"""Build the shipped saturation table (``python -m chargeassist.physics.build_tables``).

Only this module and the builder of the plant's properties import CoolProp. Asking CoolProp for a
blend's bubble or dew point without a guess can fail in the middle of the working range, and can
return a root that is wrong by many kelvin without an error. So each line is walked upwards in
pressure: the neighbouring state is the guess, and a result is accepted only if it lies within 0.3 K
of the quadratic through the last three. A line with one node missing, a step back, or dew below
bubble stops the build.
"""

import argparse
import math
import re
import sys
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any, Final, TypeAlias

import CoolProp
from CoolProp.CoolProp import AbstractState, PyGuessesStructure

from chargeassist.model.errors import ChargeAssistError
from chargeassist.physics import table

State: TypeAlias = Any
"""A CoolProp AbstractState or guess structure; the library ships no type information."""

OLDEST_COOLPROP: Final = (8, 0, 0)
"""Older releases place the bubble point of R-454B 0.3 K off and cannot build R-448A."""

NODE_COUNT: Final = 257
"""Nodes of each line; the interpolation is then within 0.04 mK (tests demand 2 mK)."""

LOW_PA_ABS: Final = 60_000.0
"""Below it a charged, running system is not measured; that is the vacuum gauge's range [Pa]."""

LOW_PA_ABS_R744: Final = 520_000.0
"""Just above the triple point of carbon dioxide, 517.95 kPa [Pa]."""

HIGH_FRACTION: Final = 0.95
"""Share of the critical pressure where a line ends; closer, equations of state lose accuracy."""

GUARD_K: Final = 0.3
"""How far a root may lie from the quadratic through the last three and still be trusted [K]."""

BELOW_BUBBLE_K: Final = 0.001
"""Azeotropes have dew = bubble; the flash leaves this much noise between them [K]."""

PURE: Final = {
    "R-22": "R22",
    "R-32": "R32",
    "R-134a": "R134a",
    "R-290": "R290",
    "R-600a": "R600a",
    "R-744": "R744",
    "R-1234yf": "R1234yf",
    "R-1234ze(E)": "R1234ze(E)",
    "R-1270": "R1270",
}
"""Single substances and the names CoolProp has for them."""

PSEUDO_PURE: Final = ("R-404A", "R-407C", "R-410A", "R-507A")
"""Blends for which CoolProp has one equation of the blend itself (Lemmon 2003)."""

BLENDS: Final[dict[str, dict[str, float]]] = {
    "R-404A": {"R-125": 44, "R-143a": 52, "R-134a": 4},
    "R-407A": {"R-32": 20, "R-125": 40, "R-134a": 40},
    "R-407C": {"R-32": 23, "R-125": 25, "R-134a": 52},
    "R-407F": {"R-32": 30, "R-125": 30, "R-134a": 40},
    "R-407H": {"R-32": 32.5, "R-125": 15, "R-134a": 52.5},
    "R-410A": {"R-32": 50, "R-125": 50},
    "R-417A": {"R-125": 46.6, "R-134a": 50, "R-600": 3.4},
    "R-421A": {"R-125": 58, "R-134a": 42},
    "R-422B": {"R-125": 55, "R-134a": 42, "R-600a": 3},
    "R-422D": {"R-125": 65.1, "R-134a": 31.5, "R-600a": 3.4},
    "R-427A": {"R-32": 15, "R-125": 25, "R-143a": 10, "R-134a": 50},
    "R-434A": {"R-125": 63.2, "R-143a": 18, "R-134a": 16, "R-600a": 2.8},
    "R-448A": {"R-32": 26, "R-125": 26, "R-1234yf": 20, "R-134a": 21, "R-1234ze(E)": 7},
    "R-449A": {"R-32": 24.3, "R-125": 24.7, "R-1234yf": 25.3, "R-134a": 25.7},
    "R-450A": {"R-134a": 42, "R-1234ze(E)": 58},
    "R-452A": {"R-32": 11, "R-125": 59, "R-1234yf": 30},
    "R-452B": {"R-32": 67, "R-125": 7, "R-1234yf": 26},
    "R-454A": {"R-32": 35, "R-1234yf": 65},
    "R-454B": {"R-32": 68.9, "R-1234yf": 31.1},
    "R-454C": {"R-32": 21.5, "R-1234yf": 78.5},
    "R-455A": {"R-744": 3, "R-32": 21.5, "R-1234yf": 75.5},
    "R-459A": {"R-32": 68, "R-1234yf": 26, "R-1234ze(E)": 6},
    "R-466A": {"R-32": 49, "R-125": 11.5, "R-13I1": 39.5},
    "R-507A": {"R-125": 50, "R-143a": 50},
    "R-513A": {"R-1234yf": 56, "R-134a": 44},
    "R-515B": {"R-1234ze(E)": 91.1, "R-227ea": 8.9},
}
"""Nominal compositions by ANSI/ASHRAE Standard 34 [mass percent]; sources beside the test."""

COMPONENTS: Final = {
    **PURE,
    "R-13I1": "R13I1",
    "R-125": "R125",
    "R-143a": "R143a",
    "R-227ea": "R227EA",
    "R-600": "n-Butane",
    "R-744": "CarbonDioxide",
}
"""What CoolProp calls the components."""


class BuildError(ChargeAssistError):
    """CoolProp is too old, or gave a line that cannot be trusted."""


def require_coolprop(version: str) -> None:
    """Raise `BuildError` unless `version` is one whose blends can be trusted."""
    found = tuple(int(part) for part in re.findall(r"\d+", version)[:3])
    if found < OLDEST_COOLPROP:
        oldest = ".".join(map(str, OLDEST_COOLPROP))
        raise BuildError(
            f"expected CoolProp {oldest} or newer, came {version}: its R-32/R-1234yf blends differ "
            f'by up to 1.4 K; run: pip install "CoolProp>={oldest}"'
        )


def new_state(name: str, *, as_mixture: bool = False) -> State:
    """Return a CoolProp state of the refrigerant, its composition set.

    Parameters
    ----------
    name : str
        Designation as in the table.
    as_mixture : bool
        Use the model of the components also where a pseudo-pure equation exists.
    """
    if name in PURE:
        return AbstractState("HEOS", PURE[name])
    if name in PSEUDO_PURE and not as_mixture:
        return AbstractState("HEOS", name.replace("-", ""))
    parts = BLENDS[name]
    state = AbstractState("HEOS", "&".join(COMPONENTS[part] for part in parts))
    total = math.fsum(parts.values())
    state.set_mass_fractions([percent / total for percent in parts.values()])
    return state


def critical_point(state: State, *, mixture: bool) -> tuple[float, float]:
    """Return critical pressure [Pa absolute] and temperature [K]."""
    if not mixture:
        return state.p_critical(), state.T_critical()
    points = state.all_critical_points()
    chosen = next((point for point in points if point.stable), points[0])
    return chosen.p, chosen.T


def extrapolate(last_three: Sequence[tuple[float, float]], x: float) -> float:
    """Return the quadratic through three (x, y) at `x`, in the unit of y."""
    (x0, y0), (x1, y1), (x2, y2) = last_three
    return (
        y0 * (x - x1) * (x - x2) / ((x0 - x1) * (x0 - x2))
        + y1 * (x - x0) * (x - x2) / ((x1 - x0) * (x1 - x2))
        + y2 * (x - x0) * (x - x1) / ((x2 - x0) * (x2 - x1))
    )


def walk(
    state: State,
    quality: float,
    pressures_pa_abs: Sequence[float],
    *,
    mixture: bool,
) -> list[tuple[float, float]]:
    """Return (temperature, density) along one saturation line.

    Parameters
    ----------
    state : CoolProp.AbstractState
        From `new_state`.
    quality : float
        0 for the bubble line, 1 for the dew line [mol/mol].
    pressures_pa_abs : sequence of float
        Rising [Pa absolute].
    mixture : bool
        Whether the state needs the neighbour as a guess.

    Raises
    ------
    BuildError
        A pressure for which no result passed the guard.
    """
    guess: State = None
    history: list[tuple[float, float]] = []
    result: list[tuple[float, float]] = []
    for pressure in pressures_pa_abs:
        x = math.log(pressure)
        expected = extrapolate(history[-3:], x) if len(history) >= 3 else None
        for update in _updates(state, guess, expected, pressure, quality):
            try:
                update()
            except ValueError:
                continue
            temp = state.T()
            if math.isfinite(temp) and (expected is None or abs(temp - expected) <= GUARD_K):
                break
        else:
            raise BuildError(f"no trusted root at {pressure / 1000:.6g} kPa absolute, q={quality}")
        history.append((x, temp))
        result.append((temp, state.rhomass()))
        if mixture:
            guess = PyGuessesStructure()
            guess.T = temp
            guess.rhomolar_liq = state.saturated_liquid_keyed_output(CoolProp.iDmolar)
            guess.rhomolar_vap = state.saturated_vapor_keyed_output(CoolProp.iDmolar)
            guess.x = state.mole_fractions_liquid()
            guess.y = state.mole_fractions_vapor()
    return result


def _updates(
    state: State,
    guess: State,
    expected: float | None,
    pressure_pa_abs: float,
    quality: float,
) -> list[Callable[[], None]]:
    """Return the ways to ask for this state, most trusted first."""

    def plain() -> None:
        state.update(CoolProp.PQ_INPUTS, pressure_pa_abs, quality)

    def guided() -> None:
        guess.T = expected or guess.T
        state.update_with_guesses(CoolProp.PQ_INPUTS, pressure_pa_abs, quality, guess)

    return [plain] if guess is None else [guided, plain]


def grid(low_pa_abs: float, high_pa_abs: float, count: int) -> list[float]:
    """Return `count` pressures uniform in ln p, both ends included [Pa absolute]."""
    span = math.log(high_pa_abs / low_pa_abs)
    inner = [low_pa_abs * math.exp(span * i / (count - 1)) for i in range(1, count - 1)]
    return [low_pa_abs, *inner, high_pa_abs]


def build_entry(name: str) -> dict[str, Any]:
    """Return the table's row for one refrigerant.

    Raises
    ------
    BuildError
        A node is missing, a line does not rise, or dew lies below bubble.
    """
    state = new_state(name)
    mixture = name in BLENDS and name not in PSEUDO_PURE
    critical_pressure, critical_temp = critical_point(state, mixture=mixture)
    low = LOW_PA_ABS_R744 if name == "R-744" else LOW_PA_ABS
    high = math.floor(HIGH_FRACTION * critical_pressure / 1000.0) * 1000.0
    pressures = grid(low, high, NODE_COUNT)
    try:
        bubble = walk(state, 0.0, pressures, mixture=mixture)
        dew = walk(state, 1.0, pressures, mixture=mixture)
    except BuildError as exc:
        raise BuildError(f"{name}: {exc}") from exc
    bubble_temp = [round(temp, 6) for temp, _ in bubble]
    dew_temp = [round(temp, 6) for temp, _ in dew]
    for line, temps in (("bubble", bubble_temp), ("dew", dew_temp)):
        if any(after <= before for before, after in pairwise(temps)):
            raise BuildError(f"{name}: the {line} line does not rise everywhere")
    lowest = min(d - b for d, b in zip(dew_temp, bubble_temp, strict=True))
    if lowest < -BELOW_BUBBLE_K:
        raise BuildError(f"{name}: dew lies {-lowest:.4f} K below bubble")
    parts = BLENDS.get(name, {name: 100.0})
    return {
        "model": "pure" if name in PURE else "mixture" if mixture else "pseudo-pure",
        "composition": [[part, round(percent / 100.0, 6)] for part, percent in parts.items()],
        "low_pa_abs": low,
        "high_pa_abs": high,
        "critical_pressure_pa_abs": round(critical_pressure, 0),
        "critical_temp_k": round(critical_temp, 4),
        "bubble_temp_k": bubble_temp,
        # A negative glide of an azeotrope is noise of the flash, bounded above.
        "dew_temp_k": [max(d, b) for d, b in zip(dew_temp, bubble_temp, strict=True)],
        "liquid_density_kg_per_m3": [round(density, 4) for _, density in bubble],
    }


def build_document(tell: Callable[[str], None]) -> dict[str, Any]:
    """Return the whole table document; `tell` is given one line per refrigerant."""
    require_coolprop(CoolProp.__version__)

    def number(name: str) -> tuple[int, str]:
        return int(re.findall(r"\d+", name)[0]), name

    rows = {}
    for name in sorted({*PURE, *BLENDS}, key=number):
        rows[name] = build_entry(name)
        high = rows[name]["high_pa_abs"] / 1000.0
        tell(f"{name}: {rows[name]['model']}, to {high:.0f} kPa absolute")
    return {
        "format": table.FORMAT,
        "format_version": table.FORMAT_VERSION,
        "coolprop_version": CoolProp.__version__,
        "coolprop_revision": CoolProp.__gitrevision__,
        "refrigerants": rows,
    }


def largest_difference_k(one: table.SaturationTable, other: table.SaturationTable) -> float:
    """Return the largest difference of any saturation temperature of two tables [K].

    Infinite if the tables differ in refrigerants, compositions or pressure ranges.
    """
    largest = 0.0
    if one.entries.keys() != other.entries.keys():
        return math.inf
    for name, a in one.entries.items():
        b = other.entries[name]
        if (a.composition, a.low_pa_abs, a.high_pa_abs) != (
            b.composition,
            b.low_pa_abs,
            b.high_pa_abs,
        ) or len(a.bubble_temp_k) != len(b.bubble_temp_k):
            return math.inf
        for left, right in ((a.bubble_temp_k, b.bubble_temp_k), (a.dew_temp_k, b.dew_temp_k)):
            largest = max(largest, *(abs(x - y) for x, y in zip(left, right, strict=True)))
    return largest


def main(arguments: Sequence[str] | None = None) -> int:
    """Build the table and write it, or with ``--check`` compare it with the shipped file.

    Returns
    -------
    int
        0: written, or the shipped file is the same; 1: it is not; 2: the build failed.
    """
    parser = argparse.ArgumentParser(prog="python -m chargeassist.physics.build_tables")
    parser.add_argument(
        "--check", action="store_true", help="write nothing; say whether the file is the same"
    )
    parser.add_argument(
        "--output",
        type=Path,
        default=Path(__file__).with_name(table.FILE_NAME),
        help="the file to write or to check (default: the one in this package)",
    )
    options = parser.parse_args(arguments)
    try:
        text = table.encode(build_document(lambda line: _say(sys.stderr.write, line)))
        built = table.decode(text)
        if not options.check:
            options.output.write_text(text, encoding="ascii", newline="\n")
            _say(sys.stdout.write, f"written: {options.output}, SHA-256 {built.sha256}")
            return 0
        shipped = table.decode(options.output.read_text(encoding="ascii"))
    except (ChargeAssistError, OSError) as exc:
        _say(sys.stderr.write, f"error: {exc}")
        return 2
    if shipped.sha256 == built.sha256:
        _say(sys.stdout.write, f"the same: {options.output}, SHA-256 {built.sha256}")
        return 0
    _say(
        sys.stdout.write,
        f"NOT the same: file {shipped.sha256} (CoolProp {shipped.coolprop_version}), rebuilt "
        f"{built.sha256} (CoolProp {built.coolprop_version}); largest difference of a saturation "
        f"temperature {largest_difference_k(shipped, built):.3g} K",
    )
    return 1


def _say(write: Callable[[str], object], line: str) -> None:
    write(f"{line}\n")


if __name__ == "__main__":
    sys.exit(main())
