"""The instructor's script of a scenario: what is done at the unit, at which time.

::

    [[script]]
    at = "4 min"
    do = "recover"              # a key of `DEEDS`
    mass = "150 g"
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.stages.course import skip_text
from chargeassist.model.channels import Role
from chargeassist.model.events import Mark, MarkKind, Stage
from chargeassist.model.hazards import Hazard
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity
from chargeassist.session.job.toml_table import TomlTable
from chargeassist.session.pilot import Pilot
from chargeassist.session.scenario.amounts import time_s

DEEDS: Final = {
    "open the valve": MarkKind.STEP_BEGUN,
    "shut the valve": MarkKind.STEP_ENDED,
    "recover": MarkKind.STEP_ENDED,
    "charge mode": MarkKind.FREQUENCY_HELD,
    "leave charge mode": MarkKind.FREQUENCY_LEFT,
    "see to the probe": MarkKind.PROBE_SEEN_TO,
    "check": MarkKind.CONFIRMED,
    "read the caution": MarkKind.CAUTION_READ,
    "note": MarkKind.NOTE,
    "begin": MarkKind.STAGE_BEGUN,
    "skip": MarkKind.STAGE_SKIPPED,
    "nitrogen on": MarkKind.NITROGEN_ON,
    "nitrogen off": MarkKind.NITROGEN_OFF,
    "vent": MarkKind.VENTED,
    "pump on": MarkKind.PUMP_ON,
    "pump off": MarkKind.PUMP_OFF,
    "change the pump oil": MarkKind.OIL_CHANGED,
    "shut the pump valve": MarkKind.VALVE_SHUT,
    "open the pump valve": MarkKind.VALVE_OPENED,
    "mend the leak": MarkKind.LEAK_MENDED,
}
"""What can be done, and the mark it leaves in the record."""


@dataclass
class ScriptedTechnician:
    """Someone at the unit who follows a script and, if told so, the advice.

    Attributes
    ----------
    script : sequence of Mark
        Each is made as soon as its time has come; in order of time.
    pilot : Pilot or None
        None does only what the script says.
    """

    script: Sequence[Mark]
    pilot: Pilot | None = None

    @property
    def finished(self) -> bool:
        """Whether the charge is done; never without a pilot."""
        return self.pilot is not None and self.pilot.finished

    def look(self, snapshot: Snapshot) -> tuple[Mark, ...]:
        """Return what to do on seeing `snapshot`; the script comes before the advice."""
        due = tuple(mark for mark in self.script if mark.t <= snapshot.t)
        if due:
            self.script = [mark for mark in self.script if mark.t > snapshot.t]
            return due
        return () if self.pilot is None else self.pilot.look(snapshot)


def read_script(top: TomlTable, required_hz: float) -> tuple[Mark, ...]:
    """Return the ``[[script]]`` tables of a scenario file, by time.

    Raises
    ------
    ConfigError
        Naming file, key, what was expected and what came.
    """
    marks = [_mark(table, required_hz) for table in top.tables("script")]
    return tuple(sorted(marks, key=lambda mark: mark.t))


def _mark(table: TomlTable, required_hz: float) -> Mark:
    deed = table.choice("do", tuple(DEEDS))
    t = time_s(table, "at")
    mass_kg: float | None = None
    text = ""
    if deed == "recover":
        mass_kg = -table.quantity_between("mass", Quantity.MASS, 0.001, 50.0)
    elif deed in ("open the valve", "shut the valve") and table.get("mass") is not None:
        mass_kg = table.quantity_between("mass", Quantity.MASS, 0.001, 50.0)
    elif deed == "see to the probe":
        text = table.choice("probe", tuple(Role))
    elif deed == "begin":
        text = table.choice("stage", tuple(Stage))
    elif deed == "skip":
        text = skip_text(
            Stage(table.choice("stage", tuple(Stage))), plain(table.filled("why"), 200)
        )
    elif deed == "read the caution":
        text = table.choice("hazard", tuple(Hazard))
    elif deed in ("check", "note"):
        text = plain(table.text("text"), 200)
    hertz = required_hz if deed == "charge mode" else None
    table.finish()
    return Mark(t=t, kind=DEEDS[deed], mass_kg=mass_kg, frequency_hz=hertz, text=text)
