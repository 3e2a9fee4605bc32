"""Invented conditions, probe findings and readings for the pictures of the dashboard.

The causes are ranked by the real diagnosis; what it is fed is invented.
"""

from dataclasses import replace

from chargeassist.guide.conditions import Condition, ConditionState
from chargeassist.guide.cure import refrigerant_is_cure
from chargeassist.guide.diagnosis import CHARGING_PRIOR, FeatureReading, diagnose
from chargeassist.guide.fault_terms import Feature
from chargeassist.guide.snapshot import Caution, Snapshot
from chargeassist.model.events import Action, Advice
from chargeassist.model.limits import Authority, Limit, LimitKey
from chargeassist.model.units import KELVIN_AT_0_C
from chargeassist.stream.probe_findings import ProbeFinding, ProbeTrouble, Severity

_MANUAL = ("invented installation manual, page 12", Authority.EQUIPMENT)
_CODE = ("invented county energy code, section 4", Authority.LOCAL_CODE)


def _limit(key: LimitKey, value_si: float, written: str, source: tuple[str, Authority]) -> Limit:
    return Limit(
        key=key,
        value_si=value_si,
        as_written=written,
        source=source[0],
        edition="2020" if source is _CODE else "",
        authority=source[1],
        strict=key is LimitKey.AIRFLOW_LOW,
        from_memory=key is LimitKey.RUN_BEFORE_READING,
    )


OUTDOOR = _limit(LimitKey.OUTDOOR_LOW, KELVIN_AT_0_C + 15.0, "15 °C", _MANUAL)
RETURN = _limit(LimitKey.INDOOR_LOW, KELVIN_AT_0_C + 21.0, "21 °C", _MANUAL)
RUN = _limit(LimitKey.RUN_BEFORE_READING, 900.0, "15 min", _CODE)
AIRFLOW = _limit(LimitKey.AIRFLOW_LOW, 4.026e-5, "300 cfm/ton", _CODE)


def with_findings(base: Snapshot) -> Snapshot:
    """Return `base`, inside its target, with two open conditions and three findings."""
    job = replace(base.job, profile="california-installer", limits=(OUTDOOR, RETURN, RUN, AIRFLOW))
    met, unknown = ConditionState.MET, ConditionState.UNKNOWN
    found = (
        Condition(limit=OUTDOOR, state=met, value_si=KELVIN_AT_0_C + 24.2),
        Condition(limit=RETURN, state=unknown),
        Condition(limit=RUN, state=met, value_si=1412.0),
        Condition(limit=AIRFLOW, state=unknown),
    )
    findings = (
        _finding("suction_temperature", ProbeTrouble.LOOSE, Severity.CAUTION, base.t - 150.0),
        _finding("liquid_pressure", ProbeTrouble.NOISY, Severity.CAUTION, base.t - 45.0),
        _finding("liquid_temperature", ProbeTrouble.LAGGING, Severity.NOTE, base.t - 60.0),
    )
    figures = dict(base.advice.figures)
    return replace(
        base,
        job=job,
        conditions=found,
        facts=replace(base.facts, findings=findings),
        advice=Advice(
            t=base.t,
            action=Action.STOP,
            cause="inside_conditions_open",
            subject="indoor low, airflow low",
            figures=figures,
        ),
        cautions=(
            *base.cautions,
            Caution(cause="condition_unknown", subject="indoor low"),
            Caution(cause="condition_unknown", subject="airflow low"),
            _doubt("suction line temperature: loose", 150.0),
            _doubt("liquid line pressure: noisy", 45.0),
        ),
    )


def _finding(channel: str, kind: ProbeTrouble, severity: Severity, since_t: float) -> ProbeFinding:
    return ProbeFinding(channel=channel, kind=kind, severity=severity, figures={}, since_t=since_t)


def _doubt(subject: str, since_s: float) -> Caution:
    return Caution(cause="probe_doubt", subject=subject, figures={"since_s": since_s})


_READINGS = (
    (Feature.SUBCOOLING, 3.7, 5.0, 0.8, 0.42),
    (Feature.SUPERHEAT, 7.8, 8.0, 5.8, 0.6),
    (Feature.CONDENSING, 26.4, 11.1, 5.6, 0.8),
    (Feature.EVAPORATING, -13.4, -18.6, 4.7, 0.8),
    (Feature.AIR_SPLIT, 9.6, 10.3, 2.5, 0.6),
)
"""Feature, value, expected, tolerance and expanded uncertainty [K]."""


def with_diagnosis(base: Snapshot) -> Snapshot:
    """Return `base`, short of its target, with readings that speak for a foul coil."""
    readings = [
        FeatureReading(
            feature=feature,
            value_si=value,
            expected_si=expected,
            tolerance_si=tolerance,
            expanded_si=expanded,
        )
        for feature, value, expected, tolerance, expanded in _READINGS
    ]
    diagnosis = diagnose(readings, CHARGING_PRIOR)
    cure = refrigerant_is_cure(diagnosis)
    first = diagnosis.causes[0]
    figures = {"chance": first.probability}
    return replace(
        base,
        diagnosis=diagnosis,
        advice=Advice(
            t=base.t,
            action=Action.FIX_FIRST,
            cause="not_the_cure",
            subject=cure.cause.cause.value,
            figures={"chance": cure.probability},
        ),
        cautions=(Caution(cause="suspect", subject=first.cause.value, figures=figures),),
    )
