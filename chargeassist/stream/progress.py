"""How far settling is, in the words and numbers of the facts: state, cause, forecast."""

from chargeassist.model.judged import SUBCOOLING, JudgedQuantity
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Forecast, Measured, SettleState, Settling
from chargeassist.stream.settling import SettlingCause, SettlingDetector
from chargeassist.stream.settling_witness import LEAVES_K, WitnessWatch, saturated_below_k

FORECAST_EVERY_S = 8.0
"""A forecast is recomputed this often [s], every other bin of the detector; it costs more than all
else in a tick."""

MOVING_K_PER_S = 0.05 / 60.0
"""A slower change [K/s] is not worth calling rising or falling."""

PROVING = frozenset(
    {
        "young_run",
        "hunting",
        "not_proven",
        "witness_superheat",
        "witness_subcooling",
        "witness_amps",
    }
)
"""Causes in which nothing seems to move any more and only the proof is missing."""


class Progress:
    """Reports one detector's progress.

    Parameters
    ----------
    detector : SettlingDetector
    minimum_wait_s : float
        After each change, however quiet the reading is [s].
    judged : JudgedQuantity
    """

    def __init__(
        self,
        detector: SettlingDetector,
        minimum_wait_s: float,
        judged: JudgedQuantity = SUBCOOLING,
    ) -> None:
        self._detector = detector
        self._by_subcooling = judged is SUBCOOLING
        self._witnesses = WitnessWatch(detector.band_k, by_subcooling=self._by_subcooling)
        self._two_phase = False
        self._minimum_wait_s = minimum_wait_s
        self._made: tuple[float, bool, Forecast | None] | None = None

    def forget(self) -> None:
        """Drop the forecast: something has changed."""
        self._made = None
        self._witnesses.disturbed()

    def hear(self, t: float, witness: Measured | NoValue, amps_a: float | None) -> None:
        """Take what the witnesses read at `t` [s]."""
        witness_k = witness.value_k if isinstance(witness, Measured) else None
        self._witnesses.take(t, witness_k, amps_a)

    def settling(
        self, t: float, since_s: float, level: Measured, *, flag: bool, blocked: str
    ) -> Settling:
        """Return where settling stands at `t` [s].

        Parameters
        ----------
        t, since_s : float
            Now, and seconds since the last disturbance.
        level : Measured
            The judged value, its noise taken out.
        flag : bool
            The detector calls the reading settled.
        blocked : str
            Cause that rules a settled reading out whatever the detector says; empty for none.
        """
        detector = self._detector
        period_s = detector.hunting_period_s
        state = SettleState.MOVING
        at_saturation = self._is_two_phase(level)
        witness = self._witnesses.holds(
            t,
            proved=flag and not blocked,
            two_phase=at_saturation,
            hunting=period_s is not None,
        )
        held_s = None
        if blocked:
            cause = blocked
        elif witness:
            state, cause, held_s = SettleState.NEARLY, f"witness_{witness}", self._witnesses.left_s
        elif flag and since_s >= self._minimum_wait_s:
            state, cause = SettleState.SETTLED, "settled"
            if at_saturation:
                state, cause = SettleState.TWO_PHASE, "two_phase"
        elif flag:
            state, cause = SettleState.NEARLY, "minimum_wait"
        else:
            if detector.state == "nearly settled":
                state = SettleState.NEARLY
            cause = ""
        if blocked or cause in {"settled", "two_phase"}:
            # What has settled needs no forecast, and while something blocks it there is none.
            return Settling(
                state=state,
                cause=cause,
                since_s=since_s,
                hunting_period_s=period_s,
            )
        slope = detector.slope_k_per_s
        if not cause:
            cause = self._why_moving(slope or 0.0)
        return Settling(
            state=state,
            cause=cause,
            slope_k_per_s=slope,
            since_s=since_s,
            hunting_period_s=period_s,
            forecast=self._forecast(t, since_s, cause),
            held_s=held_s,
        )

    def _is_two_phase(self, level: Measured) -> bool:
        """Whether a liquid line stands at saturation; it leaves it a little higher than it came."""
        below_k = saturated_below_k(level.expanded_k) + (LEAVES_K if self._two_phase else 0.0)
        self._two_phase = self._by_subcooling and level.value_k < below_k
        return self._two_phase

    def _why_moving(self, slope: float) -> str:
        match self._detector.cause:
            case SettlingCause.NO_READING | SettlingCause.LOST | SettlingCause.YOUNG_STEP:
                return "too_early"
            case SettlingCause.UNANNOUNCED if abs(slope) < MOVING_K_PER_S:
                return "unannounced"
            case SettlingCause.YOUNG_RUN:
                return "young_run"
            case SettlingCause.HUNTING:
                return "hunting"
            case SettlingCause.MOVING | SettlingCause.UNANNOUNCED:
                return "rising" if slope > 0.0 else "falling"
            case _:
                return "not_proven"

    def _forecast(self, t: float, since_s: float, cause: str) -> Forecast | None:
        """Return the forecast, recomputed every few seconds and counted down in between."""
        # In a transient that is over only proof is missing, and how long that takes is not known.
        proving = cause in PROVING
        made = self._made
        if made is None or made[1] is not proving or not 0.0 <= t - made[0] < FORECAST_EVERY_S:
            made = self._made = (t, proving, self._look_ahead(proving=proving))
        made_t, _, forecast = made
        if forecast is None or proving:
            return forecast
        at_least_s = max(self._minimum_wait_s - since_s, 0.0)
        passed_s = t - made_t
        return Forecast(
            value_k=forecast.value_k,
            low_k=forecast.low_k,
            high_k=forecast.high_k,
            seconds=_left_s(forecast.seconds, passed_s, at_least_s),
            seconds_low=_left_s(forecast.seconds_low, passed_s, at_least_s),
            seconds_high=_left_s(forecast.seconds_high, passed_s, at_least_s),
        )

    def _look_ahead(self, *, proving: bool) -> Forecast | None:
        detector = self._detector
        value, low, high = detector.forecast_k, detector.forecast_low_k, detector.forecast_high_k
        if value is None or low is None or high is None:
            return None
        if proving:
            return Forecast(value_k=value, low_k=low, high_k=high)
        return Forecast(
            value_k=value,
            low_k=low,
            high_k=high,
            seconds=detector.seconds_to_go,
            seconds_low=detector.seconds_to_go_low,
            seconds_high=detector.seconds_to_go_high,
        )


def _left_s(seconds: float | None, passed_s: float, at_least_s: float) -> float | None:
    """Return what is left of a forecast's seconds; None stays None."""
    return None if seconds is None else max(seconds - passed_s, at_least_s)
