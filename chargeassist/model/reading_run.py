"""Readings that follow one another, kept as columns: the quick way from a record to its verdicts.

A long session is tens of thousands of readings with hardly an event between them. Nothing that
works on all of them has to make an object of each.
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
    """Readings in their order, with no other event between them; the columns are equally long.

    Attributes
    ----------
    times : sequence of float
        [s].
    channels : sequence of str
    values : sequence of float
        [SI].
    qualities : sequence of Quality or None
        None: all are good.
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
        """Return one of them as the event it is; the device's own time is not kept."""
        return Reading(
            t=self.times[index],
            channel=self.channels[index],
            value=self.values[index],
            quality=Quality.GOOD if self.qualities is None else self.qualities[index],
        )

    def is_plain(self, largest_si: float) -> bool:
        """Return whether all are good, none goes back in time and none is beyond ±`largest_si`.

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
