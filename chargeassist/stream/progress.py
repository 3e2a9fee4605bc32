"""How far settling is, in the words and numbers of the facts: state, cause, forecast."""

from dataclasses import replace

from chargeassist.stream.facts import Forecast, SettleState, Settling
from chargeassist.stream.settling import SettlingDetector

FORECAST_EVERY_S = 5.0
"""A forecast is made anew this often [s]; it costs more than all else in a tick."""

FIRST_LOOK_S = 30.0
"""Sooner after a change [s] no direction is told."""

MOVING_K_PER_S = 0.05 / 60.0
"""A slower change [K/s] is not worth calling rising or falling."""


class Progress:
    """Tells of one detector's progress.

    Parameters
    ----------
    detector : SettlingDetector
    minimum_wait_s : float
        After each change, however quiet the reading is [s].
    """

    def __init__(self, detector: SettlingDetector, minimum_wait_s: float) -> None:
        self._detector = detector
        self._minimum_wait_s = minimum_wait_s
        self._made: tuple[float, Forecast | None] | None = None

    def forget(self) -> None:
        """Drop the forecast: something has changed."""
        self._made = None

    def settling(self, t: float, since_s: float, *, flag: bool, blocked: str) -> Settling:
        """Return where settling stands at `t` [s].

        Parameters
        ----------
        t, since_s : float
            Now, and seconds since the last disturbance.
        flag : bool
            The detector calls the reading settled.
        blocked : str
            Cause that rules a settled reading out whatever the detector says; empty for none.
        """
        detector = self._detector
        forecast = None if blocked else self._forecast(t, since_s)
        state = SettleState.MOVING
        if blocked:
            cause = blocked
        elif flag and since_s >= self._minimum_wait_s:
            state, cause = SettleState.SETTLED, "settled"
        elif flag:
            state, cause = SettleState.NEARLY, "minimum_wait"
        else:
            if detector.state == "nearly settled":
                state = SettleState.NEARLY
            cause = self._why_moving(since_s)
        return Settling(
            state=state,
            cause=cause,
            slope_k_per_s=detector.slope_k_per_s,
            remaining_k=detector.remaining_k,
            since_s=since_s,
            hunting_period_s=detector.hunting_period_s,
            forecast=forecast,
        )

    def _why_moving(self, since_s: float) -> str:
        detector = self._detector
        slope, remaining = detector.slope_k_per_s, detector.remaining_k
        if slope is None or remaining is None or since_s < FIRST_LOOK_S:
            return "too_early"
        if abs(remaining) > detector.band_k and abs(slope) >= MOVING_K_PER_S:
            return "rising" if slope > 0.0 else "falling"
        return "hunting" if detector.hunting_period_s is not None else "not_proven"

    def _forecast(self, t: float, since_s: float) -> Forecast | None:
        """Return the forecast, made anew every few seconds and counted down in between."""
        made = self._made
        if made is None or not 0.0 <= t - made[0] < FORECAST_EVERY_S:
            made = self._made = (t, self._look_ahead())
        forecast = made[1]
        if forecast is None:
            return None
        wait_s = self._minimum_wait_s - since_s
        passed_s = t - made[0]
        seconds, low, high = (
            None if each is None else max(each - passed_s, wait_s, 0.0)
            for each in (forecast.seconds, forecast.seconds_low, forecast.seconds_high)
        )
        return replace(forecast, seconds=seconds, seconds_low=low, seconds_high=high)

    def _look_ahead(self) -> Forecast | None:
        detector = self._detector
        low, high = detector.forecast_low_k, detector.forecast_high_k
        if detector.forecast_k is None or low is None or high is None:
            return None
        return Forecast(
            value_k=detector.forecast_k,
            low_k=low,
            high_k=high,
            seconds=detector.seconds_to_go,
            seconds_low=detector.seconds_to_go_low,
            seconds_high=detector.seconds_to_go_high,
        )
