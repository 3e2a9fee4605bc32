"""Wrong classes of the rise test and of the standing test, on random simulated circuits.

    python tests/benchmarks/circuit/run.py --circuits 200

Each circuit is drawn from its seed: volumes, temperatures, weather, water, ice, hole. Simulators
share no assumption with the tests that are judged. Printed: what each kind of circuit was called at
the end of the hold and, for the rise test, after an hour; for leaks, how many of those at least as
large as the test claims to see were found.
"""

import argparse
import random
from collections import Counter
from dataclasses import dataclass

from chargeassist.guide.stages.hand_vacuum import hand_gauge
from chargeassist.model.units import PASCAL_PER_MICRON
from chargeassist.model.values import NoValue
from chargeassist.physics.rise_settings import RiseSettings
from chargeassist.physics.rise_test import Rise, RiseTest
from chargeassist.physics.tightness import Tightness, TightnessTest, TightVerdict
from chargeassist.physics.tightness_settings import TightnessSettings
from chargeassist.physics.vacuum_gauge import GaugeLimits
from chargeassist.plant.evacuation import Evacuation
from chargeassist.plant.evacuation_settings import EvacuationSettings, Place
from chargeassist.plant.leak import Leak
from chargeassist.plant.nitrogen_circuit import INDOOR, OUTDOOR, NitrogenCircuit
from chargeassist.plant.nitrogen_settings import NitrogenSettings

KINDS = ("tight", "moist", "ice", "leak", "both")
LIMIT_PA = 500.0 * PASCAL_PER_MICRON
HOLD_S = 1200.0
STEP_S = 5.0


@dataclass(frozen=True, slots=True)
class Called:
    """What one rise test was called at the end of its hold and after an hour."""

    kind: str
    at_hold: str
    after_hour: str


BY_HAND_S = (120.0, 390.0, 660.0, 930.0, 1200.0, 1800.0, 2700.0, 3540.0)
"""When a gauge that is read by eye is read, five times within the hold [s]."""


def evacuation(seed: int, *, by_hand: bool = False) -> Called:
    """Evacuate and isolate one random circuit."""
    rng = random.Random(seed)
    kind = KINDS[seed % len(KINDS)]
    cold = rng.uniform(262.0, 276.0) if kind == "ice" else rng.uniform(283.0, 303.0)
    water = 10.0 ** rng.uniform(-3.3, -1.7) if kind in {"moist", "ice", "both"} else 0.0
    far_wet = kind != "ice" and rng.random() < 0.5
    far_k = rng.uniform(288.0, 299.0)
    unit = Evacuation(
        EvacuationSettings(
            near_m3=rng.uniform(3e-3, 1e-2),
            far_m3=rng.uniform(2e-3, 6e-3),
            near_k=cold,
            far_k=far_k,
            air_k=cold,
            start_humidity=rng.choice([0.0, 0.5]),
            oil_water_kg=rng.choice([0.0, 0.0, 2e-5]),
            near_water_kg=0.0 if far_wet else water,
            far_water_kg=water if far_wet else 0.0,
        )
    )
    if kind in {"leak", "both"}:
        place = rng.choice([Place.NEAR, Place.FAR])
        unit.add_leak(Leak.sized(10.0 ** rng.uniform(-3.7, -2.2)), place=place)
    unit.start_pump()
    for _ in range(int(rng.uniform(1500.0, 2700.0) / STEP_S)):
        unit.step(STEP_S)
    unit.set_valve(is_open=False)
    begun = unit.t
    gauge = hand_gauge(None) if by_hand else GaugeLimits()
    settings = RiseSettings(limit_pa_abs=LIMIT_PA, hold_s=HOLD_S, gauge=gauge, by_hand=by_hand)
    test = RiseTest(settings, begun)
    due = list(BY_HAND_S)
    at_hold = last = "no reading"
    for _ in range(int(3600.0 / STEP_S)):
        unit.step(STEP_S)
        value = unit.gauge_pa_abs(Place.FAR)
        if isinstance(value, NoValue):
            continue
        noisy = value * rng.gauss(1.0, 0.005) + rng.gauss(0.0, 0.5 * PASCAL_PER_MICRON)
        shown = max(round(noisy / PASCAL_PER_MICRON), 0) * PASCAL_PER_MICRON
        if by_hand:
            if not due or unit.t - begun < due[0]:
                continue
            due.pop(0)
            shown = round(shown / PASCAL_PER_MICRON / 5.0) * 5.0 * PASCAL_PER_MICRON
        found = test.update(unit.t, shown, min(cold, far_k))
        if isinstance(found, Rise):
            last = found.verdict.name
            if unit.t - begun <= HOLD_S + 2.0 * STEP_S:
                at_hold = last
    return Called(kind, at_hold, last)


@dataclass(frozen=True, slots=True)
class Stood:
    """One standing test: what it was called, and whether it claims to have seen the leak."""

    leaks: bool
    verdict: str
    visible: bool


def standing(seed: int) -> Stood:
    """Fill and isolate one random circuit in weather."""
    rng = random.Random(seed)
    circuit = NitrogenCircuit(
        NitrogenSettings(
            outdoor_k=rng.uniform(280.0, 308.0),
            indoor_k=rng.uniform(288.0, 300.0),
            outdoor_swing_k=rng.uniform(0.0, 6.0),
            swing_start_s=rng.uniform(-86_400.0, 86_400.0),
        )
    )
    circuit.set_regulator(rng.choice([1.0e6, 2.4e6, 3.8e6]))
    circuit.set_supply(is_open=True)
    circuit.run_until(900.0)
    circuit.set_supply(is_open=False)
    leaks = rng.random() < 0.5
    if leaks:
        size = Leak.sized(10.0 ** rng.uniform(-4.0, -2.3))
        circuit.add_leak(size, part=rng.choice([OUTDOOR, INDOOR]))
    hold_s = rng.choice([3600.0, 7200.0])
    test = TightnessTest(
        TightnessSettings(
            hold_s=hold_s,
            pressure_drift_half_width_pa=2000.0,
            temp_drift_half_width_k=0.3,
            pressure_noise_pa=300.0,
        ),
        900.0,
    )
    before_mol = circuit.amount_mol
    said: Tightness | None = None
    falling = visible = False
    for k in range(1, int(hold_s / STEP_S) + 12):
        circuit.run_until(900.0 + STEP_S * k)
        so = circuit.truth()
        temps = [temp + rng.gauss(0.0, 0.05) for temp in (so.outdoor_pipe_k, so.indoor_pipe_k)]
        pressure = so.pressure_pa_abs + rng.gauss(0.0, 600.0)
        found = test.update(900.0 + STEP_S * k, pressure, temps, so.outdoor_air_k)
        if isinstance(found, Tightness):
            said = found
            falling = falling or found.verdict is TightVerdict.FALLING
            lost = (before_mol - circuit.amount_mol) / before_mol * so.pressure_pa_abs
            visible = lost / (STEP_S * k) >= found.smallest_leak_pa_per_s
    verdict = "FALLING" if falling else "none" if said is None else said.verdict.name
    return Stood(leaks, verdict, visible)


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--circuits", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--by-hand", action="store_true", help="five typed readings in the hold")
    asked = parser.parse_args()
    seeds = range(asked.seed, asked.seed + asked.circuits)
    called = [evacuation(seed, by_hand=asked.by_hand) for seed in seeds]
    print(f"rise test, {asked.circuits} circuits, limit 500 micron, hold 20 min")
    for kind in KINDS:
        of_kind = [each for each in called if each.kind == kind]
        at_hold = Counter(each.at_hold for each in of_kind)
        later = Counter(each.after_hour for each in of_kind)
        print(f"  {kind:6} {len(of_kind):4}  at the hold {dict(at_hold)}  in an hour {dict(later)}")
    wet = [each for each in called if each.kind != "tight"]
    wrong = sum("DRY_TIGHT" in {each.at_hold, each.after_hour} for each in wet)
    print(f"  wet or leaking called dry and tight: {wrong} of {len(wet)}")
    if asked.by_hand:
        return
    stood = [standing(seed) for seed in seeds]
    print(f"standing test, {asked.circuits} circuits in weather, 1 or 2 h")
    tight = [each for each in stood if not each.leaks]
    false = sum(each.verdict == "FALLING" for each in tight)
    print(f"  tight called falling: {false} of {len(tight)}")
    seen = [each for each in stood if each.leaks and each.visible]
    found = sum(each.verdict == "FALLING" for each in seen)
    print(f"  leaks it claims to see, found: {found} of {len(seen)}")
    small = [each for each in stood if each.leaks and not each.visible]
    print(
        f"  smaller leaks, found all the same: "
        f"{sum(each.verdict == 'FALLING' for each in small)} of {len(small)}"
    )


if __name__ == "__main__":
    main()
