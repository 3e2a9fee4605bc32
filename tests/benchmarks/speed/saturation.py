"""Saturation temperatures, one by one and many at once, beside CoolProp."""

import time
from collections.abc import Callable, Iterable
from functools import partial
from typing import Any

import numpy as np
from CoolProp.CoolProp import PQ_INPUTS, AbstractState, PropsSI

from chargeassist.physics.saturation import refrigerant

FLUIDS = (
    ("R-32", "pure", "R32"),
    ("R-410A", "pseudo-pure", "R410A"),
    ("R-454B", "blend", "R32&R1234yf"),
)
R454B_MASS = (0.689, 0.311)
MANY = 100_000


def per_item_us(work: Callable[[], object], items: int, repeats: int = 7) -> float:
    """Return the least processor time for one item [us]."""
    times = []
    for _ in range(repeats):
        begun = time.process_time()
        work()
        times.append(time.process_time() - begun)
    return 1e6 * min(times) / items


def each(call: Callable[[float], object], pressures: Iterable[float]) -> None:
    for pressure in pressures:
        call(pressure)


def by_state(state: Any, pressure: float) -> None:
    state.update(PQ_INPUTS, pressure, 0.0)


def by_name(name: str, pressure: float) -> None:
    PropsSI("T", "P", pressure, "Q", 0.0, name)


def measure() -> None:
    print("Bubble points over 0.5 to 3 MPa [us each]; in brackets: times as quick as CoolProp")
    print(f"{'':22}{'one by one':>12}{'array':>10}{'AbstractState':>22}{'PropsSI':>22}")
    for name, kind, fluid in FLUIDS:
        ours = refrigerant(name)
        pressures = np.geomspace(0.5e6, 3.0e6, MANY)
        some, few = pressures[::10].tolist(), pressures[::1000].tolist()
        scalar = per_item_us(partial(each, ours.bubble_temp_k, some), len(some))
        array = per_item_us(partial(ours.bubble_temps_k, pressures), MANY)
        state, mixed = AbstractState("HEOS", fluid), fluid
        if "&" in fluid:
            state.set_mass_fractions(list(R454B_MASS))
            parts = zip(fluid.split("&"), state.get_mole_fractions(), strict=True)
            mixed = "HEOS::" + "&".join(f"{part}[{share:.12g}]" for part, share in parts)
        low = per_item_us(partial(each, partial(by_state, state), few), len(few), 3)
        high = per_item_us(partial(each, partial(by_name, mixed), few), len(few), 3)
        print(
            f"{name + ', ' + kind:22}{scalar:12.3f}{array:10.4f}"
            f"{low:12.1f} ({low / scalar:6.0f} x){high:12.1f} ({high / scalar:6.0f} x)"
        )


if __name__ == "__main__":
    measure()
