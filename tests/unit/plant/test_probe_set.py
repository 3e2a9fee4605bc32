"""Probe sets: healthy ones are the probes alone; each trouble does what its name says."""

import statistics

import pytest

from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError
from chargeassist.plant.probe_set import ProbeFault, ProbeFaultKind, ProbeSet
from chargeassist.plant.probes import PROBE_MODELS, Probe

TRUTH = dict.fromkeys(Role, 300.0) | {
    Role.LIQUID_PRESSURE: 2.5e6,
    Role.SUCTION_PRESSURE: 1.0e6,
    Role.OUTDOOR_AIR_TEMPERATURE: 297.0,
    Role.LIQUID_TEMPERATURE: 307.0,
}


def run(probes: ProbeSet, seconds: int) -> list[dict[Role, float]]:
    rows = []
    for second in range(seconds):
        probes.follow(TRUTH, 1.0 if second else 0.0)
        rows.append(probes.read())
    return rows


def fault(trouble: ProbeFaultKind, role: Role, amount: float, start_s: float) -> ProbeFault:
    return ProbeFault(role=role, trouble=trouble, amount=amount, start_s=start_s, full_s=start_s)


def test_a_healthy_set_reads_what_single_probes_read() -> None:
    rows = run(ProbeSet(9), 50)
    probe = Probe(PROBE_MODELS[Role.LIQUID_PRESSURE], "probe 9 liquid_pressure")
    for second, row in enumerate(rows):
        probe.follow(2.5e6, 1.0 if second else 0.0)
        assert row[Role.LIQUID_PRESSURE] == probe.read()


def test_a_trouble_of_one_probe_changes_no_other() -> None:
    clean = run(ProbeSet(3), 60)
    for trouble, amount in (
        (ProbeFaultKind.ZERO, 5.0),
        (ProbeFaultKind.LOOSE, 0.3),
        (ProbeFaultKind.STUCK, 0.0),
        (ProbeFaultKind.NOISY, 5.0),
    ):
        faults = [fault(trouble, Role.LIQUID_TEMPERATURE, amount, 10.0)]
        rows = run(ProbeSet(3, faults=faults), 60)
        for one, other in zip(clean, rows, strict=True):
            changed = {role for role in one if one[role] != other[role]}
            assert changed <= {Role.LIQUID_TEMPERATURE}
        assert rows[:9] == clean[:9]
        assert rows[10:] != clean[10:]


def test_a_wrong_zero_creeps_to_its_amount() -> None:
    creep = ProbeFault(
        role=Role.LIQUID_PRESSURE,
        trouble=ProbeFaultKind.ZERO,
        amount=60e3,
        start_s=100.0,
        full_s=300.0,
    )
    clean, rows = run(ProbeSet(1), 500), run(ProbeSet(1, faults=[creep]), 500)
    gaps = [
        b[Role.LIQUID_PRESSURE] - a[Role.LIQUID_PRESSURE] for a, b in zip(clean, rows, strict=True)
    ]
    assert max(map(abs, gaps[:100])) == 0.0
    assert gaps[200] == pytest.approx(30e3, abs=1.5e3)
    assert statistics.fmean(gaps[310:]) == pytest.approx(60e3, abs=500.0)


def test_a_loose_clamp_drifts_to_outdoor_air_with_its_own_lag() -> None:
    faults = [fault(ProbeFaultKind.LOOSE, Role.LIQUID_TEMPERATURE, 0.35, 50.0)]
    rows = run(ProbeSet(1, faults=faults), 600)
    shown = [row[Role.LIQUID_TEMPERATURE] for row in rows]
    end_k = 0.35 * 307.0 + 0.65 * 297.0
    assert shown[49] == pytest.approx(307.0, abs=0.2)
    # One time constant of 70 s after it let go, 63 % of the way.
    assert shown[120] == pytest.approx(307.0 + 0.632 * (end_k - 307.0), abs=0.4)
    assert shown[-1] == pytest.approx(end_k, abs=0.2)


def test_a_stuck_probe_shows_its_last_value() -> None:
    faults = [fault(ProbeFaultKind.STUCK, Role.COMPRESSOR_CURRENT, 0.0, 30.0)]
    shown = [row[Role.COMPRESSOR_CURRENT] for row in run(ProbeSet(1, faults=faults), 100)]
    assert len(set(shown[:30])) > 5
    assert len(set(shown[30:])) == 1
    assert shown[30] == shown[29]


def test_a_noisy_probe_spreads_by_its_factor() -> None:
    faults = [fault(ProbeFaultKind.NOISY, Role.LIQUID_PRESSURE, 4.0, 0.0)]

    def spread(probes: ProbeSet) -> float:
        return statistics.stdev(row[Role.LIQUID_PRESSURE] for row in run(probes, 3000))

    ratio = spread(ProbeSet(1, faults=faults)) / spread(ProbeSet(1))
    assert ratio == pytest.approx(4.0, rel=0.15)


@pytest.mark.parametrize(
    "given",
    [
        {"role": Role.LIQUID_PRESSURE, "trouble": ProbeFaultKind.LOOSE, "amount": 0.3},
        {"role": Role.LIQUID_TEMPERATURE, "trouble": ProbeFaultKind.LOOSE, "amount": 1.5},
        {"role": Role.LIQUID_PRESSURE, "trouble": ProbeFaultKind.ZERO, "amount": float("nan")},
        {"role": Role.LIQUID_PRESSURE, "trouble": ProbeFaultKind.ZERO, "start_s": 9.0},
        {"role": Role.LIQUID_PRESSURE, "trouble": ProbeFaultKind.NOISY, "amount": 0.5},
    ],
)
def test_a_trouble_that_makes_no_sense_is_refused(given: dict[str, object]) -> None:
    with pytest.raises(ConfigError, match="came"):
        ProbeFault(**given)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "trouble", [ProbeFaultKind.LOOSE, ProbeFaultKind.STUCK, ProbeFaultKind.ZERO]
)
def test_a_probe_put_right_comes_to_the_truth_by_its_own_time_constant(
    trouble: ProbeFaultKind,
) -> None:
    amount = {ProbeFaultKind.LOOSE: 0.3, ProbeFaultKind.STUCK: 0.0, ProbeFaultKind.ZERO: 5.0}[
        trouble
    ]
    probes = ProbeSet(4, faults=[fault(trouble, Role.LIQUID_TEMPERATURE, amount, 0.0)])
    at_first = (
        TRUTH | {Role.LIQUID_TEMPERATURE: 300.0} if trouble is ProbeFaultKind.STUCK else TRUTH
    )
    lying = 0.0
    for second in range(600):
        probes.follow(at_first if second < 300 else TRUTH, 1.0 if second else 0.0)
        lying = probes.read()[Role.LIQUID_TEMPERATURE]
    probes.mend()
    lag_s = PROBE_MODELS[Role.LIQUID_TEMPERATURE].lag_s
    shown = []
    for _ in range(round(8.0 * lag_s)):
        probes.follow(TRUTH, 1.0)
        shown.append(probes.read()[Role.LIQUID_TEMPERATURE])
    true_k = TRUTH[Role.LIQUID_TEMPERATURE]
    # After one time constant between a quarter and a half of the way is left, then nothing.
    left = (shown[round(lag_s)] - true_k) / (lying - true_k)
    assert 0.2 < left < 0.5
    assert shown[-1] == pytest.approx(true_k, abs=0.15)


def test_mending_a_healthy_set_changes_nothing() -> None:
    mended = ProbeSet(9)
    mended.mend()
    assert run(mended, 40) == run(ProbeSet(9), 40)
