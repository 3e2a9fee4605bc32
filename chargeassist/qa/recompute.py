"""Whether the raw readings give the recorded verdicts, and if not, which differ and why."""

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from chargeassist.guide import wording
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model import display
from chargeassist.model.build import software
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import VerdictEvent
from chargeassist.physics.table import table_hash
from chargeassist.qa.rescore import Rescored
from chargeassist.session.record.codec import encode_event

NOTHING = "nothing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One verdict that is not the same.

    Attributes
    ----------
    t : float
        Of the verdict [s].
    kind : str
        As in the record: "settled", "advice".
    recorded, made : str
        Its fields as JSON; "nothing" on the side that has none.
    fields : tuple of str
        Which fields differ, where both sides have one.
    now : str
        What today's software knew at that time.
    """

    t: float
    kind: str
    recorded: str
    made: str
    fields: tuple[str, ...]
    now: str

    @property
    def text(self) -> str:
        """All of it in a sentence."""
        if self.fields:
            before, after = json.loads(self.recorded), json.loads(self.made)
            what = "; ".join(f"{f} was {before.get(f)!r}, is {after.get(f)!r}" for f in self.fields)
        else:
            what = f"recorded {self.recorded}, recomputed {self.made}"
        return f"{display.clock(self.t)} {self.kind}: {what} (now: {self.now})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Recomputation:
    """The comparison of all verdicts of a session.

    Attributes
    ----------
    compared : int
        Verdicts of the longer side.
    differences : tuple of Difference
    causes : tuple of str
        What may have made them differ: other software, another saturation table; where neither
        changed, that is said.
    verdicts_sha256 : str
        Over the recomputed verdicts, bit for bit; two runs that agree have the same.
    """

    compared: int
    differences: tuple[Difference, ...]
    causes: tuple[str, ...]
    verdicts_sha256: str


def compare(session: Rescored) -> Recomputation:
    """Return how the verdicts of `session` compare."""
    recorded = _by_time(session.recorded)
    made = _by_time(session.made)
    states = dict(zip((e.t for e in session.recorded), session.recorded_at, strict=True))
    states |= {m.event.t: m.snapshot for m in session.moments if m.event.t in made}
    differences: list[Difference] = []
    for t in sorted(recorded.keys() | made.keys()):
        if recorded.get(t) != made.get(t):
            now = _state(states.get(t))
            differences += _differences(t, recorded.get(t, []), made.get(t, []), now)
    if not differences:
        differences += _moved(session, states)
    return Recomputation(
        compared=max(len(session.recorded), len(session.made)),
        differences=tuple(differences),
        causes=_causes(session) if differences else (),
        verdicts_sha256=verdicts_sha256(session.made),
    )


def verdicts_sha256(verdicts: tuple[VerdictEvent, ...]) -> str:
    """Return one hash over `verdicts` [hexadecimal]."""
    digest = hashlib.sha256()
    for verdict in verdicts:
        kind, body = encode_event(verdict)
        digest.update(f"{verdict.t!r}\t{kind}\t{body}\n".encode())
    return digest.hexdigest()


def _by_time(verdicts: tuple[VerdictEvent, ...]) -> dict[float, list[tuple[str, str]]]:
    found: dict[float, list[tuple[str, str]]] = defaultdict(list)
    for verdict in verdicts:
        found[verdict.t].append(encode_event(verdict))
    return found


def _differences(
    t: float, recorded: list[tuple[str, str]], made: list[tuple[str, str]], now: str
) -> list[Difference]:
    """Pair the verdicts of one time by their kind, in order."""
    left = [verdict for verdict in recorded if verdict not in made]
    right = [verdict for verdict in made if verdict not in recorded]
    if not left and not right:
        return [
            Difference(
                t=t, kind="order", recorded=_kinds(recorded), made=_kinds(made), fields=(), now=now
            )
        ]
    found = []
    for kind, body in left:
        partner = next((other for other in right if other[0] == kind), None)
        if partner is not None:
            right.remove(partner)
        after = NOTHING if partner is None else partner[1]
        fields = () if partner is None else _fields(body, partner[1])
        found.append(Difference(t=t, kind=kind, recorded=body, made=after, fields=fields, now=now))
    found += [
        Difference(t=t, kind=kind, recorded=NOTHING, made=body, fields=(), now=now)
        for kind, body in right
    ]
    return found


def _moved(session: Rescored, states: Mapping[float, Snapshot | None]) -> Iterator[Difference]:
    """Yield the first place where the same verdicts stand in another order of times."""
    for before, after in zip(session.recorded, session.made, strict=True):
        if before.t != after.t:
            yield Difference(
                t=before.t,
                kind="order",
                recorded=display.clock(before.t),
                made=display.clock(after.t),
                fields=(),
                now=_state(states.get(before.t)),
            )
            return


def _kinds(verdicts: list[tuple[str, str]]) -> str:
    return ", ".join(kind for kind, _ in verdicts)


def _fields(one: str, other: str) -> tuple[str, ...]:
    before, after = json.loads(one), json.loads(other)
    return tuple(
        name
        for name in sorted(before.keys() | after.keys())
        if before.get(name) != after.get(name) or (name in before) != (name in after)
    )


def _state(snapshot: Snapshot | None) -> str:
    if snapshot is None:
        return "nothing yet"
    return (
        f"{snapshot.facts.settling.state.value}, "
        f"{wording.sentence(snapshot.advice, UnitSystem(snapshot.job.units or UnitSystem.SI))}"
    )


def _causes(session: Rescored) -> tuple[str, ...]:
    causes = []
    then, now = session.started.software, software()
    if then != now:
        causes.append(f"the software differs: {then} recorded it, {now} recomputed it")
    if session.started.table_hash != table_hash():
        causes.append(
            "the saturation table differs: "
            f"{session.started.table_hash[:12]} then, {table_hash()[:12]} now"
        )
    if not causes:
        causes.append(
            "software and saturation table are the same: a reading, a mark or a verdict was "
            "changed after it was recorded, or another kind of processor rounds differently"
        )
    return tuple(causes)
