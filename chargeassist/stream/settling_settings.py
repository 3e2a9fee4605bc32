"""What can be tuned of the bank of hypotheses."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class BankSettings:
    """Tunables of the bank.

    Attributes
    ----------
    step_sd_k : float
        Usual size of a change (standard deviation) [K].
    creep_sd_k : float
        Usual size of a slow creep beneath it (standard deviation) [K].
    level_walk : float
        Random walk of the settled level [K/sqrt(s)].
    drift_sd_k_per_min : float
        Usual steady drift (standard deviation) [K/min].
    coloured_share, memory_s : float
        Part of the noise variance of a bin that is coloured [-], and its correlation time [s].
    temper : float
        Divides the evidence of each reading [-].
    outlier_z : float
        A reading further off than this many standard deviations counts as less sure [-].
    adapt : float
        How quickly the noise variance is learnt, per bin [-].
    first_noise : float
        First guess of the noise variance over an upper quantile of squared differences [-].
    looseness : float
        How loosely an oscillation keeps its amplitude and phase [-].
    watch_every_s, watch_slots, watch_sd_k : float, int, float
        Spacing [s] and number of candidate onsets, and the usual size of such a change [K].
    plant_share : float
        First guess that steps of one job follow the same shape [-].
    """

    step_sd_k: float = 1.6
    creep_sd_k: float = 0.6
    level_walk: float = 1.8e-3
    drift_sd_k_per_min: float = 0.01
    coloured_share: float = 0.75
    memory_s: float = 12.0
    temper: float = 1.2
    outlier_z: float = 3.5
    adapt: float = 0.04
    first_noise: float = 2.0
    looseness: float = 0.3
    watch_every_s: float = 8.0
    watch_slots: int = 12
    watch_sd_k: float = 1.0
    plant_share: float = 0.3
