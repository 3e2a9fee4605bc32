"""Consecutive readings kept as columns, for folding a long record quickly.

A long session is tens of thousands of readings with few other events between them; as columns they
can be folded without an object for each.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from operator import le

from chargeassist.model.channels import Quality
from chargeassist.model.events import Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRun:
    """Readings in order, with no other event between them; all columns have the same length.

    Attributes
    ----------
    times : sequence of float
        [s].
    channels : sequence of str
    values : sequence of float
        [SI].
    qualities : sequence of Quality or None
        None if all are good.
    """

    times: Sequence[float]
    channels: Sequence[str]
    values: Sequence[float]
    qualities: Sequence[Quality] | None = None

    def __len__(self) -> int:
        return len(self.times)

    def __iter__(self) -> Iterator[Reading]:
        return map(self.reading, range(len(self.times)))

    def reading(self, index: int) -> Reading:
        """Return one reading as an event; the device's own time is not kept."""
        return Reading(
            t=self.times[index],
            channel=self.channels[index],
            value=self.values[index],
            quality=Quality.GOOD if self.qualities is None else self.qualities[index],
        )

    def is_plain(self, largest_si: float) -> bool:
        """Return whether all are good, in order of time, and within ±`largest_si`.

        An empty run, and one with a NaN in it, is not plain.
        """
        times, values = self.times, self.values
        if self.qualities is not None or not times:
            return False
        # A comparison with NaN is false: `min` and `max` may miss one, a sum does not.
        if not (math.isfinite(sum(times)) and math.isfinite(sum(values))):
            return False
        forward = all(map(le, times, islice(times, 1, None)))
        return forward and -largest_si <= min(values) and max(values) <= largest_si
