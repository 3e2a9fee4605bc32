"""The dashboard on invented moments, as a picture: a tool for whoever works on the screen.

    python -m chargeassist.tui.preview --state add --size 120x40 --units us --out add.svg

Every number here is invented: the job, its readings, its ledger. Nothing was measured.
"""

import argparse
import asyncio
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from chargeassist.guide.ahead import ahead
from chargeassist.guide.snapshot import Caution, Snapshot, SourceFacts
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Advice, SessionMode, Stage
from chargeassist.model.job import ChargeLimits, Hold, Job, Site, Target
from chargeassist.model.units import KELVIN_AT_0_C, Quantity, Reference
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import (
    ChannelFacts,
    ChannelState,
    ChargeStep,
    Facts,
    Forecast,
    HoldFacts,
    Measured,
    OpenStep,
    SettleState,
    Settling,
)
from chargeassist.tui.app import Dashboard
from chargeassist.tui.canned import CannedSession, history
from chargeassist.tui.preview_findings import with_diagnosis, with_findings
from chargeassist.tui.preview_superheat import by_superheat, no_target, superheat_moving

JOB = Job(
    name="Millrace Lane Library, reading room",
    refrigerant="R-32",
    target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented plate"),
    charge=ChargeLimits(plate_kg=2.30, weighed_in_kg=2.05, allowance_kg=0.15, step_cap_kg=0.11),
    site=Site(altitude_m=210.0),
    hold=Hold(required_hz=72.0, lasts_s=3600.0),
)

_UNITS = {Quantity.PRESSURE: "kPa", Quantity.TEMPERATURE: "°C", Quantity.CURRENT: "A"}
_VALUES: dict[Role, tuple[float, float, float]] = {
    Role.LIQUID_PRESSURE: (2_318_000.0, 95.0, 330.0),
    Role.LIQUID_TEMPERATURE: (KELVIN_AT_0_C + 33.9, -0.0016, 0.005),
    Role.SUCTION_PRESSURE: (936_000.0, -40.0, 330.0),
    Role.SUCTION_TEMPERATURE: (KELVIN_AT_0_C + 14.6, 0.0009, 0.005),
    Role.DISCHARGE_TEMPERATURE: (KELVIN_AT_0_C + 68.3, 0.004, 0.02),
    Role.OUTDOOR_AIR_TEMPERATURE: (KELVIN_AT_0_C + 24.2, 0.0001, 0.01),
    Role.COMPRESSOR_CURRENT: (7.42, 0.0002, 0.002),
    Role.CYLINDER_MASS: (8.415, 0.0, 0.0001),
}


def _channel(role: Role, state: ChannelState) -> ChannelFacts:
    value, slope, allowed = _VALUES[role]
    reference = Reference.GAUGE if role.quantity is Quantity.PRESSURE else None
    channel = Channel(
        name=role.value,
        role=role,
        unit=_UNITS.get(role.quantity, "kg"),
        reference=reference,
        accuracy=Accuracy(absolute_si=0.5),
        source="cart",
    )
    quiet = 1.0 if state is ChannelState.MOVING else 0.2
    return ChannelFacts(
        channel=channel,
        value_si=value,
        age_s=0.4,
        slope_si_per_s=slope * 10 * quiet if state is ChannelState.MOVING else slope,
        allowed_si_per_s=allowed,
        state=state,
        why="",
    )


def _channels(moving: Sequence[Role] = ()) -> tuple[ChannelFacts, ...]:
    return tuple(
        _channel(role, ChannelState.MOVING if role in moving else ChannelState.SETTLED)
        for role in _VALUES
    )


_LEDGER = (
    ChargeStep(
        number=1, mass_kg=0.110, begun_t=610.0, ended_t=655.0, measured_by="scale",
        before_k=0.9, after_k=2.4, gain_k_per_kg=13.6,
    ),
    ChargeStep(
        number=2, mass_kg=0.085, begun_t=1050.0, ended_t=1090.0, measured_by="scale",
        before_k=2.4, after_k=3.7, gain_k_per_kg=15.3,
    ),
)  # fmt: skip


def moving() -> Snapshot:
    """Return a wait: subcooling is rising after the second step, with a forecast."""
    facts = Facts(
        t=1203.0,
        channels=_channels((Role.LIQUID_TEMPERATURE, Role.LIQUID_PRESSURE)),
        subcooling=Measured(value_k=3.18, expanded_k=0.42),
        superheat=Measured(value_k=7.9, expanded_k=0.61),
        liquid_saturation_k=KELVIN_AT_0_C + 37.1,
        suction_saturation_k=KELVIN_AT_0_C + 6.7,
        settling=Settling(
            state=SettleState.MOVING,
            cause="rising",
            slope_k_per_s=0.0055,
            since_s=113.0,
            forecast=Forecast(
                value_k=3.73, low_k=3.35, high_k=4.2, seconds=74.0, seconds_low=52.0,
                seconds_high=118.0,
            ),
        ),
        settled=None,
        settled_superheat_k=None,
        hold=HoldFacts(
            required_hz=72.0, actual_hz=72.0, held=True, since_t=300.0, expires_s=2397.0,
            told_by="technician",
        ),
        station_pa_abs=98_825.0,
        step_open=None,
        ledger=(_LEDGER[0], replace(_LEDGER[1], after_k=None, gain_k_per_kg=None)),
        total_kg=2.245,
    )  # fmt: skip
    return Snapshot(
        t=facts.t,
        job=JOB,
        mode=SessionMode.FIELD,
        replayed=False,
        stage=Stage.CHARGING,
        facts=facts,
        advice=Advice(
            t=facts.t,
            action=Action.WAIT,
            cause="settling",
            subject="rising",
            figures={"slope_k_per_s": 0.0055, "seconds_s": 74.0},
        ),
        sources=(SourceFacts(name="cart"), SourceFacts(name="roof gateway")),
        ahead=ahead(JOB, facts),
    )


def _settled(value_k: float, ledger: tuple[ChargeStep, ...], total_kg: float) -> Snapshot:
    base = moving()
    measured = Measured(value_k=value_k, expanded_k=0.42)
    facts = replace(
        base.facts,
        t=1361.0,
        channels=_channels(),
        subcooling=replace(measured, value_k=value_k + 0.04),
        settling=Settling(state=SettleState.SETTLED, cause="settled", since_s=271.0),
        settled=measured,
        settled_superheat_k=7.8,
        ledger=ledger,
        total_kg=total_kg,
    )
    return replace(base, t=facts.t, facts=facts, ahead=None)


def add() -> Snapshot:
    """Return an instruction to add, settled below the target."""
    base = _settled(3.7, _LEDGER, 2.245)
    advice = Advice(
        t=base.t,
        action=Action.ADD,
        cause="below_target",
        figures={
            "subcooling_k": 3.7, "expanded_k": 0.42, "target_k": 5.0, "tolerance_k": 0.8,
            "steps_left": 1.0,
        },
        mass_kg=0.085,
    )  # fmt: skip
    return replace(base, advice=advice)


def stop() -> Snapshot:
    """Return the end of charging: inside the target after the third step."""
    third = ChargeStep(
        number=3, mass_kg=0.085, begun_t=1405.0, ended_t=1441.0, measured_by="scale",
        before_k=3.7, after_k=4.98, gain_k_per_kg=15.1,
    )  # fmt: skip
    base = _settled(4.98, (*_LEDGER, third), 2.33)
    hold = replace(base.facts.hold, expires_s=240.0)
    facts = replace(base.facts, t=1712.0, hold=hold)
    advice = Advice(
        t=facts.t,
        action=Action.STOP,
        cause="inside",
        figures={"subcooling_k": 4.98, "expanded_k": 0.42, "target_k": 5.0, "tolerance_k": 0.8},
    )
    caution = Caution(cause="hold_expiring", figures={"seconds_s": 240.0})
    return replace(
        base,
        t=facts.t,
        facts=facts,
        advice=advice,
        stage=Stage.VERIFICATION,
        cautions=(caution,),
        notes=((1500.0, "filter changed before the test"),),
    )


def recover() -> Snapshot:
    """Return an instruction to recover, settled above the target."""
    base = _settled(6.9, _LEDGER, 2.38)
    advice = Advice(
        t=base.t,
        action=Action.RECOVER,
        cause="above_target",
        figures={"subcooling_k": 6.9, "expanded_k": 0.42, "target_k": 5.0, "tolerance_k": 0.8},
        mass_kg=0.060,
    )
    return replace(base, advice=advice)


def fix() -> Snapshot:
    """Return a job that cannot go on: the liquid line probe is silent, its source lost."""
    base = moving()
    channels = tuple(
        replace(
            each, value_si=None, age_s=47.0, slope_si_per_s=None, state=ChannelState.NO_SIGNAL,
            why="nothing for 47 s",
        )
        if each.channel.role is Role.LIQUID_TEMPERATURE
        else each
        for each in base.facts.channels
    )  # fmt: skip
    facts = replace(
        base.facts,
        channels=channels,
        subcooling=NoValue("no liquid line temperature for 47 s"),
        settling=Settling(),
    )
    advice = Advice(
        t=base.t,
        action=Action.FIX_FIRST,
        cause="no_signal",
        subject="liquid line temperature",
        figures={"age_s": 47.0},
    )
    lost = SourceFacts(name="roof gateway", lost_since=1156.0, reason="broker closed the line")
    cart = SourceFacts(name="cart", bad_inputs=3, dropped=2)
    return replace(base, facts=facts, advice=advice, sources=(cart, lost), ahead=None)


def step_open() -> Snapshot:
    """Return a charge step in progress, weighed by the scale."""
    base = _settled(3.7, _LEDGER, 2.245)
    facts = replace(
        base.facts,
        settled=None,
        settling=Settling(state=SettleState.MOVING, cause="step_open"),
        step_open=OpenStep(begun_t=1340.0, so_far_kg=0.055),
    )
    advice = Advice(t=base.t, action=Action.WAIT, cause="step_open", figures={"so_far_kg": 0.055})
    return replace(base, facts=facts, advice=advice)


def simulated() -> Snapshot:
    """Return `moving`, said to be simulated."""
    return replace(moving(), mode=SessionMode.SIMULATED, cautions=(Caution(cause="simulated"),))


def replay() -> Snapshot:
    """Return `add`, said to be a replay."""
    return replace(add(), replayed=True)


def checks() -> Snapshot:
    """Return `stop` with open conditions and probes in doubt."""
    return with_findings(stop())


def suspect() -> Snapshot:
    """Return `add` refused: the readings look like another fault."""
    return with_diagnosis(add())


STATES: dict[str, Callable[[], Snapshot]] = {
    "moving": moving,
    "add": add,
    "stop": stop,
    "recover": recover,
    "fix": fix,
    "step-open": step_open,
    "simulated": simulated,
    "replay": replay,
    "checks": checks,
    "superheat": lambda: by_superheat(add()),
    "superheat-moving": lambda: superheat_moving(moving()),
    "no-target": lambda: no_target(add()),
    "suspect": suspect,
}


async def screenshot(
    state: str,
    size: tuple[int, int],
    *,
    system: UnitSystem = UnitSystem.US,
    unicode: bool = True,
    keys: Sequence[str] = (),
) -> str:
    """Return the SVG picture of a state.

    Parameters
    ----------
    state : str
        Key of `STATES`.
    size : (int, int)
        Columns and rows.
    system : UnitSystem
    unicode : bool
    keys : sequence of str
        Keys pressed before the picture is taken.
    """
    last = STATES[state]()
    session = CannedSession([*history(last), last], can_pause=last.mode is SessionMode.SIMULATED)
    app = Dashboard(session, system=system, unicode=unicode)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        app.paint()
        await pilot.press(*keys)
        await pilot.pause()
        return app.export_screenshot()


def main(argv: Sequence[str] | None = None) -> int:
    """Write one picture, or show the dashboard itself when there is no ``--out``."""
    parser = argparse.ArgumentParser(description="show the dashboard on an invented moment")
    parser.add_argument("--state", choices=sorted(STATES), default="moving")
    parser.add_argument("--size", default="120x40", help="columns x rows, for a picture")
    parser.add_argument("--units", choices=["si", "us"], default="us")
    parser.add_argument("--ascii", action="store_true", help="as on a terminal without UTF-8")
    parser.add_argument("--keys", default="", help="keys to press first, separated by commas")
    parser.add_argument("--out", type=Path, help="SVG file to write")
    given = parser.parse_args(argv)
    system = UnitSystem(given.units)
    if given.out is None:
        last = STATES[given.state]()
        session = CannedSession([*history(last), last], can_pause=True)
        Dashboard(session, system=system, unicode=False if given.ascii else None).run()
        return 0
    columns, _, rows = given.size.partition("x")
    keys = [key for key in given.keys.split(",") if key]
    picture = asyncio.run(
        screenshot(
            given.state,
            (int(columns), int(rows)),
            system=system,
            unicode=not given.ascii,
            keys=keys,
        )
    )
    given.out.write_text(picture, encoding="utf-8")
    sys.stdout.write(f"{given.out}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
