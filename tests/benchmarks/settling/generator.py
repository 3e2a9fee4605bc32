"""Invented charging jobs with a known truth, for scoring settling detectors.

Everything here is invented. A job is a start-up transient and a few charge steps; each transient
is a closed-form curve, so that the instant it has settled is known. On top come noise, drift,
valve hunting, coarse readings, gaps and spikes. Some families are deliberately outside the
detector's own hypotheses: a stretched exponential, a spike over a creep, a probe that warms up
behind the plant.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

BAND_K = 0.3
SLOPE_K_PER_S = 0.1 / 60.0
RATES_HZ = (0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
WEATHERS = ("clean", "noisy", "hunting", "drift", "gaps", "coarse")
KNOWN = ("first order", "two lags", "under-damped")
FOREIGN = ("stretched", "spike and creep", "probe lag")


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One disturbance: where it begins and ends [s], its size [K], when it has settled [s]."""

    t0: float
    t1: float
    change_k: float
    settled_k: float
    settled_t: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Job:
    """Readings of one job and the truth behind them; arrays have shape (n,)."""

    weather: str
    family: str
    rate_hz: float
    t: Floats
    subcooling: Floats
    superheat: Floats
    amps: Floats
    remaining_k: Floats
    asymptote_k: Floats
    steps: tuple[Step, ...]
    announced_t: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Plant:
    """A family of transients and its numbers: time constants [s], and one more by family."""

    family: str
    tau_s: float
    other: float
    fast_s: float


def draw_plant(rng: np.random.Generator, families: tuple[str, ...]) -> Plant:
    """Draw a plant: slowest time constant 20-170 s, and a second number by family."""
    family = families[int(rng.integers(len(families)))]
    tau_s = float(rng.uniform(20.0, 170.0))
    other = {
        "first order": 0.0,
        "two lags": float(rng.uniform(0.15, 0.6)),
        "under-damped": float(rng.uniform(0.5, 0.9)),
        "stretched": float(rng.uniform(0.7, 0.9)),
        "spike and creep": float(rng.uniform(-0.6, -0.1)),
        "probe lag": float(rng.uniform(10.0, 90.0)),
    }[family]
    if family in FOREIGN:
        tau_s *= 0.6
    return Plant(family, tau_s, other, float(rng.uniform(4.0, 25.0)))


def vary(rng: np.random.Generator, plant: Plant) -> Plant:
    """Return the same plant at another step: its time constant wanders by about 10 %."""
    tau_s = plant.tau_s * math.exp(float(rng.normal(0.0, 0.1)))
    return Plant(plant.family, tau_s, plant.other, plant.fast_s)


def remaining(plant: Plant, age_s: Floats) -> Floats:
    """Return the part of a change still to come at each age [-]."""
    u, tau, other = age_s, plant.tau_s, plant.other
    g: Floats
    match plant.family:
        case "first order":
            g = np.exp(-u / tau)
        case "two lags":
            b = other * tau
            g = (tau * np.exp(-u / tau) - b * np.exp(-u / b)) / (tau - b)
        case "under-damped":
            te = 0.5 * tau
            w = math.sqrt(1.0 - other * other) / (other * te)
            g = np.exp(-u / te) * (np.cos(w * u) + np.sin(w * u) / (w * te))
        case "stretched":
            g = np.exp(-((u / tau) ** other))
        case "spike and creep":
            # Overshoots within seconds, then creeps back.
            g = (1.0 - other) * np.exp(-u / plant.fast_s) + other * np.exp(-u / tau)
        case "probe lag":
            lag = other if abs(other - tau) > 1.0 else other + 2.0
            g = (tau * np.exp(-u / tau) - lag * np.exp(-u / lag)) / (tau - lag)
        case _:
            raise ValueError(f"no such family: {plant.family!r}")
    return g


def _settled_age(plant: Plant, change_k: float) -> float:
    u = np.arange(0.0, 1800.0, 0.1)
    e = change_k * remaining(plant, u)
    outside = np.flatnonzero((np.abs(e) > BAND_K) | (np.abs(np.gradient(e, 0.1)) > SLOPE_K_PER_S))
    return float(u[outside[-1]] + 0.1) if outside.size else 0.0


def _noise(
    rng: np.random.Generator, n: int, dt: float, white_k: float, coloured_k: float, memory_s: float
) -> Floats:
    phi = math.exp(-dt / memory_s)
    drive = rng.normal(0.0, coloured_k * math.sqrt(1.0 - phi * phi), n)
    value = float(rng.normal(0.0, coloured_k))
    coloured = np.empty(n)
    for k, kick in enumerate(drive.tolist()):
        coloured[k] = value
        value = phi * value + kick
    return rng.normal(0.0, white_k, n) + coloured


def make_job(
    seed: int,
    *,
    weather: str,
    families: tuple[str, ...] = KNOWN,
    one_plant: bool = False,
    steps: int = 3,
    rate_hz: float | None = None,
) -> Job:
    """Make one job, the same for the same arguments.

    Parameters
    ----------
    seed : int
        Chooses everything that is drawn.
    weather : str
        One of WEATHERS.
    families : tuple of str
        Families the transients are drawn from.
    one_plant : bool
        Whether all charge steps follow one plant (the start-up never does).
    steps : int
        Number of charge steps after the start-up.
    rate_hz : float or None
        Sampling rate [Hz]; None draws one of RATES_HZ.
    """
    rng = np.random.default_rng([20260, seed])
    rate = float(rng.choice(np.array(RATES_HZ))) if rate_hz is None else rate_hz
    plant = draw_plant(rng, families)
    value, t0 = float(rng.uniform(-1.0, 2.0)), 0.0
    parts: list[tuple[Step, Plant]] = []
    for k in range(steps + 1):
        this = vary(rng, plant) if one_plant and k else draw_plant(rng, families)
        change = float(rng.uniform(0.6, 2.5)) if k else float(rng.uniform(1.0, 5.0))
        draw = float(rng.random())
        if k and draw < 0.1:
            change = -change
        elif k and draw < 0.2:
            change = float(rng.uniform(-0.2, 0.2))
        age = _settled_age(this, change)
        cut_short = bool(k and rng.random() < 0.15 and k < steps)
        hold = age * float(rng.uniform(0.5, 1.0)) + 30.0 if cut_short else age + 420.0
        step = Step(
            t0=t0,
            t1=t0 + hold,
            change_k=change,
            settled_k=value + change,
            settled_t=t0 + age if age < hold else math.inf,
        )
        parts.append((step, this))
        value += change * (1.0 - float(remaining(this, np.array([hold]))[0]))
        t0 += hold
    dt = 1.0 / rate
    t = np.arange(0.0, t0, dt)
    t[1:] += np.clip(rng.normal(0.0, 0.02 * dt, t.size - 1), -0.2 * dt, 0.2 * dt)
    left, clean = np.zeros(t.size), np.zeros(t.size)
    for step, this in parts:
        inside = (t >= step.t0) & (t < step.t1)
        e = step.change_k * remaining(this, t[inside] - step.t0)
        left[inside] = e
        clean[inside] = step.settled_k - e
    white, coloured = {"noisy": (0.25, 0.12), "clean": (0.05, 0.02)}.get(weather, (0.1, 0.06))
    scale = float(rng.uniform(0.7, 1.3))
    memory = float(rng.uniform(3.0, 15.0))
    level = clean.copy()
    if weather == "drift":
        level += float(rng.choice(np.array([-1.0, 1.0]))) * rng.uniform(0.01, 0.04) / 60.0 * t
    hunt = np.zeros(t.size)
    if weather == "hunting":
        period = float(rng.uniform(30.0, 120.0))
        wander = 1.0 + 0.05 * np.sin(2.0 * math.pi * t / 700.0 + rng.uniform(0.0, 6.28))
        phase = np.cumsum(wander) * (2.0 * math.pi * dt / period)
        hunt = float(rng.uniform(0.5, 2.0)) * (np.sin(phase) + 0.15 * np.sin(2.0 * phase + 0.7))
    n = t.size
    sat = 40.0 + 0.5 * _noise(rng, n, dt, scale * white, scale * coloured, memory)
    liquid = (
        40.0
        - level
        - 0.4 * hunt
        - 0.5 * _noise(rng, n, dt, scale * white, scale * coloured, memory)
    )
    # Coarse probes: about 0.5 psi of an R-410A-like fluid, and 0.1 F; else 0.1 psi and 0.05 K.
    q_sat, q_liquid = (0.08, 0.0556) if weather == "coarse" else (0.016, 0.05)
    subcooling = np.round(sat / q_sat) * q_sat - np.round(liquid / q_liquid) * q_liquid
    # The superheat moves its own way: quicker than the subcooling, and against it.
    superheat = 10.0 - 0.6 * level + 0.3 * left + hunt
    superheat = superheat + _noise(rng, n, dt, 1.3 * scale * white, scale * coloured, memory)
    superheat = np.round(superheat / 0.05) * 0.05
    if weather == "gaps":
        lost = rng.random(n) < 0.03
        for start in rng.uniform(0.0, t0, 3):
            lost |= (t >= start) & (t < start + rng.uniform(10.0, 40.0))
        spikes = rng.random(n) < 0.002
        subcooling[spikes] += rng.choice(np.array([-5.0, 5.0]), int(spikes.sum()))
        subcooling[lost] = superheat[lost] = math.nan
    amps = 7.0 + 0.08 * level + 0.02 * hunt
    amps = np.round((amps + _noise(rng, n, dt, 0.03, 0.02, memory)) / 0.01) * 0.01
    amps[np.isnan(subcooling)] = math.nan
    return Job(
        weather=weather,
        family="one plant" if one_plant else "/".join(families),
        rate_hz=rate,
        t=t,
        subcooling=subcooling,
        superheat=superheat,
        amps=amps,
        remaining_k=np.abs(left),
        asymptote_k=level + left,
        steps=tuple(step for step, _ in parts),
        announced_t=tuple(step.t0 for step, _ in parts[1:]),
    )


def make_jobs(
    seed: int,
    count: int,
    *,
    families: tuple[str, ...] = KNOWN,
    one_plant: bool = False,
    steps: int = 3,
    weathers: tuple[str, ...] = WEATHERS,
    rate_hz: float | None = None,
) -> list[Job]:
    """Make a set of jobs that goes round the weathers; see make_job."""
    return [
        make_job(
            seed * 1000 + k,
            weather=weathers[k % len(weathers)],
            families=families,
            one_plant=one_plant,
            steps=steps,
            rate_hz=rate_hz,
        )
        for k in range(count)
    ]
