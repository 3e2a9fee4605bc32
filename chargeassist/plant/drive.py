"""The compressor's drive: start, ramp, hold, interruptions, and the switches that stop it."""

import math
from enum import StrEnum
from typing import Final

from chargeassist.plant.physical_settings import HIGHEST_SHARE, LOWEST_SHARE, PhysicalSettings
from chargeassist.plant.property_table import fluid

START_SHARE: Final = 0.25
"""Share of the required frequency at which a standing compressor starts."""

LOW_SWITCH_K: Final = 256.05
HIGH_SWITCH_K: Final = 338.45
"""Bubble points of the pressures at which the switches open [K]: with R-410A 50 and 610 psig at sea
level, which are usual settings (common practice, no published source)."""

HOTTEST_DISCHARGE_K: Final = 398.15
"""Discharge temperature at which the machine stops, 125 degrees Celsius [K] (common practice, no
published source)."""

SWITCH_S: Final = 5.0
"""A switch opens when its limit was passed for so long [s]."""

START_GRACE_S: Final = 120.0
"""After a start the low pressure switch is not heeded for so long [s]."""


class Trip(StrEnum):
    """Why the drive stopped by itself."""

    LOW_PRESSURE = "low pressure"
    HIGH_PRESSURE = "high pressure"
    HOT_DISCHARGE = "hot discharge"


class Drive:
    """Frequency of the compressor.

    Parameters
    ----------
    settings : PhysicalSettings

    Attributes
    ----------
    frequency_hz : float
        Now, 0 when it stands [Hz].
    trip : Trip or None
        Why it stopped by itself; it stays stopped until `reset`.
    reversing : bool
        Whether it stands for a defrost, with the reversing valve between its ends.
    low_switch_pa_abs, high_switch_pa_abs : float
        Suction and discharge pressure at which it stops [Pa absolute].
    """

    __slots__ = (
        "_command_hz", "_hold_until_s", "_settings", "_started_s", "_switch_s",
        "frequency_hz", "high_switch_pa_abs", "low_switch_pa_abs", "reversing", "trip",
    )  # fmt: skip

    def __init__(self, settings: PhysicalSettings) -> None:
        self._settings = settings
        substance = fluid(settings.refrigerant)
        self.low_switch_pa_abs = substance.bubble_pressure_pa_abs(LOW_SWITCH_K)
        self.high_switch_pa_abs = substance.bubble_pressure_pa_abs(HIGH_SWITCH_K)
        self._command_hz = settings.start_hz
        self._hold_until_s = math.inf
        self._started_s = -math.inf
        self._switch_s = 0.0
        self.frequency_hz = 0.0
        self.reversing = False
        self.trip: Trip | None = None

    def command(self, frequency_hz: float | None, t: float) -> None:
        """Go to a frequency from time `t`; None is the required one, 0 stops [Hz], [s].

        A machine that was told a frequency holds it for the settings' hold.
        """
        s = self._settings
        wanted_hz = s.required_hz if frequency_hz is None else frequency_hz
        if wanted_hz > 0.0:
            lowest_hz = LOWEST_SHARE * s.required_hz
            wanted_hz = min(max(wanted_hz, lowest_hz), HIGHEST_SHARE * s.required_hz)
        else:
            wanted_hz = 0.0
        self._command_hz = wanted_hz
        self._hold_until_s = t + s.hold_s if s.hold_s > 0.0 else math.inf

    def reset(self) -> None:
        """Forget a trip; the last command counts again."""
        self.trip = None
        self._switch_s = 0.0

    def advance(self, dt_s: float, t: float) -> float:
        """Return the frequency of the step that begins at `t` [Hz]."""
        s = self._settings
        wanted_hz = self._command_hz
        if t >= self._hold_until_s:
            wanted_hz = s.load_hz
        since_s = t - s.oil_return_at_s
        if s.oil_return_at_s >= 0.0 and 0.0 <= since_s < s.oil_return_for_s and wanted_hz > 0.0:
            wanted_hz = s.oil_return_hz
        since_s = t - s.defrost_at_s
        self.reversing = s.defrost_at_s >= 0.0 and 0.0 <= since_s < s.defrost_for_s
        if self.trip is not None or wanted_hz <= 0.0 or self.reversing:
            self.frequency_hz = 0.0
            return 0.0
        now_hz = self.frequency_hz
        if now_hz <= 0.0:
            self._started_s = t
            now_hz = min(START_SHARE * s.required_hz, wanted_hz)
        step_hz = s.ramp_hz_per_s * dt_s
        self.frequency_hz = now_hz + min(max(wanted_hz - now_hz, -step_hz), step_hz)
        return self.frequency_hz

    def watch(
        self, dt_s: float, t: float, suction_pa: float, discharge_pa: float, discharge_k: float
    ) -> None:
        """Open a switch whose limit was passed for long enough.

        Parameters
        ----------
        dt_s, t : float
            Step that has passed, and when it began [s].
        suction_pa, discharge_pa : float
            At the compressor [Pa absolute].
        discharge_k : float
            Of its body and discharge line [K].
        """
        if self.frequency_hz <= 0.0:
            self._switch_s = 0.0
            return
        reason: Trip | None = None
        if discharge_pa > self.high_switch_pa_abs:
            reason = Trip.HIGH_PRESSURE
        elif discharge_k > HOTTEST_DISCHARGE_K:
            reason = Trip.HOT_DISCHARGE
        elif suction_pa < self.low_switch_pa_abs and t - self._started_s > START_GRACE_S:
            reason = Trip.LOW_PRESSURE
        if reason is None:
            self._switch_s = 0.0
            return
        self._switch_s += dt_s
        if self._switch_s >= SWITCH_S:
            self.trip = reason
            self.frequency_hz = 0.0
