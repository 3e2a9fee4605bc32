"""Cost of probe health for each channel and tick; a figure to look at, never a pass or a fail.

Run: ``python tests/benchmarks/bench_probe_health.py``
"""

import random
import time

from chargeassist.model.channels import Channel, Role
from chargeassist.model.units import Quantity
from chargeassist.stream.probe_health import ProbeHealth

SECONDS = 3000
LEVELS = {
    Quantity.PRESSURE: (2e6, 1500.0, 689.4757),
    Quantity.TEMPERATURE: (300.0, 0.03, 1.0 / 18.0),
    Quantity.CURRENT: (9.0, 0.04, 0.01),
    Quantity.FREQUENCY: (72.0, 0.03, 0.1),
    Quantity.MASS: (9.0, 0.0004, 0.001),
}


def cost_us(rate_hz: int) -> tuple[float, float]:
    """Return microseconds per channel and tick: samples, and comparisons."""
    health = ProbeHealth()
    noise = random.Random(1)
    values = {}
    for role in Role:
        level, sd, step = LEVELS[role.quantity]
        watch = health.declare(Channel(name=role.value, role=role, unit="SI", resolution_si=step))
        values[watch] = [round(noise.gauss(level, sd) / step) * step for _ in range(997)]
    feeding = ticking = 0.0
    for second in range(SECONDS):
        times = [second + k / rate_hz for k in range(rate_hz)]
        begun = time.process_time()
        for k, t in enumerate(times):
            for watch, series in values.items():
                watch.take(t, series[(second * rate_hz + k) % 997])
        middle = time.process_time()
        health.tick(second + 1.0)
        feeding += middle - begun
        ticking += time.process_time() - middle
    scale = 1e6 / (SECONDS * len(Role))
    return feeding * scale, ticking * scale


if __name__ == "__main__":
    for rate_hz in (1, 10):
        feeding, ticking = cost_us(rate_hz)
        print(
            f"{rate_hz} Hz: {feeding:.2f} us samples + {ticking:.2f} us comparing, a channel-tick"
        )
