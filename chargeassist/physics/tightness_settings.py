"""What a standing pressure test is made with, and how long it is to last."""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.model.errors import ConfigError

SHARE_U_UNKNOWN: Final = 1.0 / math.sqrt(12.0)
"""Standard uncertainty of a volume share nobody knows: rectangular from 0 to 1 [-] (JCGM 100:2008,
4.3.7)."""

SHARE_U_GIVEN: Final = 0.15
"""... and of one that was given: reckoned from pipe lengths, as a rule [-] (assumption)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TightnessSettings:
    """What the test is made with and how long it is to last.

    Attributes
    ----------
    hold_s : float
        How long it must stand after isolation, by the limit that counts [s].
    settle_s : float
        Left out after isolation, while the heat of filling goes to the pipes [s]. Common practice,
        no published source: about ten minutes.
    leak_pa_per_s : float or None
        Leak that must be visible before the circuit is called tight; None: whatever is visible.
    volume_shares : tuple of float or None
        Share of the volume at each pipe probe; None where nobody knows: equal, and doubted.
    pressure_drift_half_width_pa : float
        How far the pressure probe may drift during the test, plus or minus [Pa]; its constant
        error cancels. Where the data sheet is silent, take its accuracy.
    temp_drift_half_width_k : float
        The same of a temperature probe [K].
    station_half_width_pa : float
        Change of the atmosphere during the test that nobody measures; 0 with an absolute probe or
        a barometer in the record [Pa].
    pressure_noise_pa : float
        Smallest believable scatter of one reading: a third of the resolution, or more [Pa].
    unseen_share : float
        Part of the gas that may have followed a change of temperature not at all, as a standard
        uncertainty [-] (assumption; compressor, coil in the sun).
    share_u : float
        Standard uncertainty of a volume share [-]; None takes `SHARE_U_GIVEN` with given shares,
        `SHARE_U_UNKNOWN` without.

    Raises
    ------
    ConfigError
        A figure is negative, no number, or the shares do not add up to one.
    """

    hold_s: float
    settle_s: float = 600.0
    leak_pa_per_s: float | None = None
    volume_shares: tuple[float, ...] | None = None
    pressure_drift_half_width_pa: float
    temp_drift_half_width_k: float
    station_half_width_pa: float = 0.0
    pressure_noise_pa: float = 0.0
    unseen_share: float = 0.05
    share_u: float | None = None

    @property
    def volume_share_u(self) -> float:
        """Standard uncertainty of a volume share that counts [-]."""
        if self.share_u is not None:
            return self.share_u
        return SHARE_U_UNKNOWN if self.volume_shares is None else SHARE_U_GIVEN

    def __post_init__(self) -> None:
        for name in (
            "hold_s", "settle_s", "leak_pa_per_s", "pressure_drift_half_width_pa",
            "temp_drift_half_width_k", "station_half_width_pa", "pressure_noise_pa",
            "unseen_share", "share_u",
        ):  # fmt: skip
            value: float | None = getattr(self, name)
            if value is not None and not 0.0 <= value < math.inf:
                raise ConfigError(f"{name}: expected a number of zero or more, came {value:g}")
        if self.leak_pa_per_s == 0.0:
            raise ConfigError("leak_pa_per_s: no test can see a leak of nothing; leave it out")
        shares = self.volume_shares
        if shares is not None and not (
            all(share >= 0.0 for share in shares) and abs(math.fsum(shares) - 1.0) <= 1e-6
        ):
            raise ConfigError(f"volume shares must be positive and add up to 1, came {shares}")
