"""What the technician typed, confirmed, and chose to go on without."""

from collections.abc import Mapping

from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry, believed
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.model.mark_event import WAIVED_BY
from chargeassist.model.usual_limits import USUAL
from chargeassist.stream.facts import Entered


def fresh(
    entered: Mapping[Entry, Entered], entry: Entry, t: float, lasts_s: float
) -> Entered | None:
    """Return the entry if it was typed at most `lasts_s` before `t` [s], else None."""
    typed = entered.get(entry)
    return typed if typed is not None and t - typed.t <= lasts_s else None


class TypedNumbers:
    """Keeps the newest of each; one per session.

    Parameters
    ----------
    outdoor_air_k : float or None
        What the job file says of it, as if typed when the session began [K].
    air_lasts_s : float
        How long outdoor air and wet bulb count once they are typed [s].

    Attributes
    ----------
    newest : mapping of Entry to Entered
    confirmed : frozenset of str
        Keys of limits the technician has checked.
    waived : mapping of str to str
        Keys of conditions the technician goes on without, and why.
    evacuated_t : float or None
        When the vacuum pump was last told to run [s].
    """

    def __init__(
        self,
        outdoor_air_k: float | None = None,
        air_lasts_s: float = USUAL[LimitKey.TYPED_AIR_LASTS].value_si,
    ) -> None:
        self.air_lasts_s = air_lasts_s
        self.newest: Mapping[Entry, Entered] = {}
        if outdoor_air_k is not None:
            self.newest = {Entry.OUTDOOR_AIR: Entered(value_si=outdoor_air_k, t=0.0)}
        self.confirmed: frozenset[str] = frozenset()
        self.waived: Mapping[str, str] = {}
        self.evacuated_t: float | None = None

    @classmethod
    def of(cls, job: Job) -> "TypedNumbers":
        """Return the store for a job, with the outdoor air and the limit that it names."""
        return cls(job.site.outdoor_air_k, job.limit_si(LimitKey.TYPED_AIR_LASTS))

    def take(self, mark: Mark) -> None:
        """Take a mark; an implausible number changes nothing.

        Each mark makes a new mapping, because the facts of earlier ticks keep theirs.
        """
        if mark.kind is MarkKind.CONFIRMED:
            self.confirmed |= {mark.text}
        elif mark.kind is MarkKind.CONDITION_WAIVED:
            key, _, why = mark.text.partition(WAIVED_BY)
            if why.strip():
                self.waived = {**self.waived, key: why.strip()}
        elif mark.kind is MarkKind.PUMP_ON:
            self.evacuated_t = mark.t
        elif mark.kind is MarkKind.WITHDRAWN:
            self.newest = {key: each for key, each in self.newest.items() if key != mark.text}
        value_si = mark.value_si
        if mark.kind is not MarkKind.ENTERED or value_si is None:
            return
        entry = believed(mark.text, value_si)
        if entry is not None:
            self.newest = {**self.newest, entry: Entered(value_si=value_si, t=mark.seen_t)}

    def fresh(self, entry: Entry, t: float) -> Entered | None:
        """Return the entry while it still counts at `t` [s], else None."""
        return fresh(self.newest, entry, t, self.air_lasts_s)

    def air(self, t: float) -> dict[Role, float]:
        """Return the typed outdoor air [K] while it counts; `Places` prefers a live probe."""
        typed = self.fresh(Entry.OUTDOOR_AIR, t) if self.newest else None
        return {} if typed is None else {Role.OUTDOOR_AIR_TEMPERATURE: typed.value_si}
