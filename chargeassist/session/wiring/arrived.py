"""What has arrived at an address, put in order: the fields a probe could be given. Bounded."""

import re
from collections import Counter, deque
from collections.abc import Callable
from dataclasses import dataclass, field

from chargeassist.model.channels import Role
from chargeassist.model.text import plain
from chargeassist.session.listening import Field, Form, Heard

MAX_TOPICS = 500
MAX_FIELDS = 200
KEPT_LINES = 12
VOTERS = 20
"""So many of the last lines decide which form a port or topic has."""


@dataclass(frozen=True, slots=True)
class Place:
    """Which field of which topic."""

    topic: str
    select: str


@dataclass(frozen=True, slots=True)
class Row:
    """One field as it stands now.

    Attributes
    ----------
    place : Place
    form : Form
    field : Field
        As it came last.
    age_s : float
        Since then [s].
    retained : bool
        It has only come as a broker's last known value so far.
    """

    place: Place
    form: Form
    field: Field
    age_s: float
    retained: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What a field was chosen to be.

    Attributes
    ----------
    url : str
        Address it is read at.
    place : Place
    form : Form
    role : Role
    unit : str
        As the probe sends it; of a pressure one that says gauge or absolute.
    accuracy : str
        As typed; empty where nothing is declared.
    scale : float
        What the number is multiplied by before its unit.
    """

    url: str
    place: Place
    form: Form
    role: Role
    unit: str
    accuracy: str = ""
    scale: float = 1.0


@dataclass(slots=True)
class _Topic:
    """One topic, or the one port."""

    lines: deque[tuple[float, bytes]] = field(default_factory=lambda: deque(maxlen=KEPT_LINES))
    votes: deque[Form] = field(default_factory=lambda: deque(maxlen=VOTERS))
    form: Form | None = None
    fields: dict[str, tuple[Field, float]] = field(default_factory=dict)
    retained: bool = True
    count: int = 0


class Arrivals:
    """Hears a port or a broker and keeps the newest of each field.

    Parameters
    ----------
    now : callable
        Steady seconds [s].

    Attributes
    ----------
    readable : int
        Lines or messages in a form in which numbers stand.
    silent_why : str
        Why the address cannot be heard now; empty while it can.
    troubles : int
        How often something came that is no line at all, and
    last_trouble : str
        what was wrong with it the last time.
    passed_over : int
        Messages of topics beyond the first `MAX_TOPICS`.
    """

    def __init__(self, now: Callable[[], float]) -> None:
        self._now = now
        self._topics: dict[str, _Topic] = {}
        self.readable = 0
        self.silent_why = ""
        self.troubles = 0
        self.last_trouble = ""
        self.passed_over = 0

    def heard(self, heard: Heard) -> None:
        """Take one line or message."""
        topic = self._topics.get(heard.topic)
        if topic is None:
            if len(self._topics) >= MAX_TOPICS:
                self.passed_over += 1
                return
            topic = self._topics[heard.topic] = _Topic()
        topic.count += 1
        topic.lines.append((self._now(), heard.raw))
        topic.retained = topic.retained and heard.retained
        if heard.form is None:
            return
        self.readable += 1
        topic.votes.append(heard.form)
        form = Counter(topic.votes).most_common(1)[0][0]
        if form != topic.form:
            topic.form = form
            topic.fields.clear()
        if heard.form == form:
            for found in heard.fields:
                if found.select in topic.fields or len(topic.fields) < MAX_FIELDS:
                    topic.fields[found.select] = (found, self._now())

    def trouble(self, reason: str, raw: bytes = b"") -> None:
        """Count what is no line."""
        self.troubles += 1
        shown = f": {plain(raw, 60)}" if raw else ""
        self.last_trouble = f"{plain(reason, 160)}{shown}"

    def back(self) -> None:
        """Note that the address can be heard."""
        self.silent_why = ""

    def lost(self, reason: str) -> None:
        """Note why the address cannot be heard."""
        self.silent_why = plain(reason, 240)

    @property
    def count(self) -> int:
        """How many lines or messages were taken."""
        return sum(topic.count for topic in self._topics.values())

    def rows(self) -> tuple[Row, ...]:
        """Return every field, by topic, those of a topic in the order in which they came."""
        now = self._now()
        return tuple(
            Row(Place(name, select), topic.form, found, now - at, topic.retained)
            for name, topic in sorted(self._topics.items())
            if topic.form is not None
            for select, (found, at) in topic.fields.items()
        )

    def row(self, place: Place) -> Row | None:
        """Return one field, or None when it has gone."""
        return next((row for row in self.rows() if row.place == place), None)

    def unread(self) -> tuple[str, ...]:
        """Return the topics whose messages are in no form that can be read."""
        return tuple(sorted(name for name, topic in self._topics.items() if topic.form is None))

    def lines(self, topic: str | None, count: int) -> tuple[str, ...]:
        """Return the last lines as they came, made plain; of all topics where None is named."""
        if topic is not None and topic in self._topics:
            found = [raw for _, raw in self._topics[topic].lines]
        else:
            stamped = [
                (at, name, raw) for name, each in self._topics.items() for at, raw in each.lines
            ]
            stamped.sort(key=lambda line: line[0])
            found = [f"{name} ".lstrip().encode() + raw for _, name, raw in stamped]
        return tuple(plain(raw.rstrip(), 200) for raw in found[-count:])


def words_of(text: str) -> frozenset[str]:
    """Return the words of a name such as "liquid_pressure" or "job/clamps.suctionTemp"."""
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    return frozenset(word.casefold() for word in re.findall(r"[A-Za-z]{2,}", parted))
