"""One implicit step of gas flow through three volumes in a row.

First the total pressures, by backward Euler with the conductances of the step's start; from them
the bulk flow between neighbours. Then each gas, carried upwind with the bulk flow and on its own
where flow is molecular. Both systems have positive diagonals and no positive entry beside them, so
what was not negative stays so, and every flow leaves one place as it enters the other.
"""

from collections.abc import Sequence
from typing import Final, NamedTuple

from chargeassist.physics.nitrogen import GAS_CONSTANT
from chargeassist.plant.vacuum_line import Line

PLACES: Final = 3
"""Volumes in a row."""


class Volumes(NamedTuple):
    """The volumes at the beginning of a step, and what joins neighbours.

    Attributes
    ----------
    temps_k, mol_per_pa : sequence, shape (3,)
        Temperature [K], and content per pressure [mol/Pa].
    lines : sequence, shape (2,)
        Between neighbours; None where shut.
    """

    temps_k: Sequence[float]
    mol_per_pa: Sequence[float]
    lines: Sequence[Line | None]

    def joined(self) -> list[tuple[int, Line, float, float]]:
        """Return the place before each open line, the line, and what is in it.

        Its temperature [K], and the gas that a cubic metre holds there per pascal [mol/(m3 Pa)].
        """
        found = []
        for e, line in enumerate(self.lines):
            if line is not None:
                temp_k = 0.5 * (self.temps_k[e] + self.temps_k[e + 1])
                found.append((e, line, temp_k, 1.0 / (GAS_CONSTANT * temp_k)))
        return found


def flow_step(
    dt_s: float,
    volumes: Volumes,
    mol: Sequence[Sequence[float]],
    molar_masses_kg: Sequence[float],
    source: Sequence[Sequence[float]],
    sink: Sequence[Sequence[float]],
) -> list[list[float]]:
    """Return the partial pressures after a step, by gas and place [Pa absolute].

    Parameters
    ----------
    dt_s : float
        [s].
    volumes : Volumes
    mol : sequence, shape (gases, 3)
        Contents before [mol].
    molar_masses_kg : sequence, shape (gases,)
        [kg/mol]; the first is taken for the mixture.
    source, sink : sequence, shape (gases, 3)
        What comes in [mol/s], and what goes per pascal inside [mol/(s Pa)].
    """
    carried = _carried(dt_s, volumes, mol, molar_masses_kg[0], source, sink)
    joined = volumes.joined()
    result = []
    for g, molar_mass_kg in enumerate(molar_masses_kg):
        diagonal = [c + dt_s * out for c, out in zip(volumes.mol_per_pa, sink[g], strict=True)]
        right = [n + dt_s * came for n, came in zip(mol[g], source[g], strict=True)]
        lower, upper = [0.0, 0.0], [0.0, 0.0]
        for e, line, temp_k, per_flow in joined:
            alone = line.molecular_m3_per_s(molar_mass_kg, temp_k) * per_flow
            onward, back = alone + carried[e][0], alone + carried[e][1]
            diagonal[e] += dt_s * onward
            lower[e] = -dt_s * onward
            diagonal[e + 1] += dt_s * back
            upper[e] = -dt_s * back
        result.append(solve_three(lower, diagonal, upper, right))
    return result


def _carried(
    dt_s: float,
    volumes: Volumes,
    mol: Sequence[Sequence[float]],
    molar_mass_kg: float,
    source: Sequence[Sequence[float]],
    sink: Sequence[Sequence[float]],
) -> list[tuple[float, float]]:
    """Return what the bulk flow carries through each line, onward and back [mol/(s Pa)].

    Per pascal of a gas in the place it comes from; one of the two is zero.
    """
    capacity = volumes.mol_per_pa
    gases = range(len(mol))
    contents = [sum(mol[g][j] for g in gases) for j in range(PLACES)]
    diagonal, right = list(capacity), list(contents)
    for j in range(PLACES):
        right[j] += dt_s * sum(source[g][j] for g in gases)
        if contents[j] > 0.0:
            diagonal[j] += dt_s * sum(sink[g][j] * mol[g][j] for g in gases) / contents[j]
    lower, upper, bulk = [0.0, 0.0], [0.0, 0.0], [0.0, 0.0]
    for e, line, temp_k, per_flow in volumes.joined():
        mean_pa = 0.5 * (contents[e] / capacity[e] + contents[e + 1] / capacity[e + 1])
        bulk[e] = line.viscous_m3_per_s(mean_pa) * per_flow
        both = bulk[e] + line.molecular_m3_per_s(molar_mass_kg, temp_k) * per_flow
        diagonal[e] += dt_s * both
        diagonal[e + 1] += dt_s * both
        lower[e] = upper[e] = -dt_s * both
    total = solve_three(lower, diagonal, upper, right)
    moved = [flow * (total[e] - total[e + 1]) for e, flow in enumerate(bulk)]
    return [
        (flow / total[e] if flow > 0.0 else 0.0, -flow / total[e + 1] if flow < 0.0 else 0.0)
        for e, flow in enumerate(moved)
    ]


def solve_three(
    lower: Sequence[float], diagonal: Sequence[float], upper: Sequence[float],
    right: Sequence[float],
) -> list[float]:  # fmt: skip
    """Return the solution of a tridiagonal system of three equations.

    ``lower[i]`` stands in row i + 1, column i; ``upper[i]`` in row i, column i + 1.
    """
    a = diagonal[0]
    w = lower[0] / a
    b = diagonal[1] - w * upper[0]
    rb = right[1] - w * right[0]
    w = lower[1] / b
    c = diagonal[2] - w * upper[1]
    rc = right[2] - w * rb
    z = rc / c
    y = (rb - upper[1] * z) / b
    return [(right[0] - upper[0] * y) / a, y, z]
