"""The target, the conditions, the probes and every other limit; some can be confirmed here."""

from dataclasses import dataclass, replace
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widget import Widget

from chargeassist.guide.conditions import WAIVABLE, Condition, ConditionState
from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.stages.unjudged import unjudged, why_unjudged
from chargeassist.model.events import MarkKind
from chargeassist.model.limits import LimitKey
from chargeassist.model.text import plain
from chargeassist.model.usual_limit import OF_THE_PROGRAM
from chargeassist.stream.probe_findings import Severity
from chargeassist.tui import judgement
from chargeassist.tui.pen import Pen
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens.overlay import TextOverlay
from chargeassist.tui.widgets.panel import Panel, hanging, joined, touch

_MOST = 9
_STATE_WIDTH = 15
_FIRST = (
    ConditionState.UNMET,
    ConditionState.UNKNOWN,
    ConditionState.WAIVED,
    ConditionState.MET,
)
_REPLACED = "a profile says otherwise; authority: rule of thumb"
_INDENT = 4 + _STATE_WIDTH


@dataclass(frozen=True, slots=True)
class Check:
    """Something the technician can say about the job.

    Attributes
    ----------
    kind : MarkKind
        `CONFIRMED`, `CONDITION_WAIVED` (then a reason is asked for) or `PROBE_SEEN_TO`.
    key : str
        The limit's key, or the channel's name.
    asked, done : str
        What is asked before it is recorded, and what was recorded.
    name : str
        Of a condition one may go on without; else empty.
    """

    kind: MarkKind
    key: str
    asked: str
    done: str
    name: str = ""

    @property
    def confirms(self) -> bool:
        """Whether Enter records it; else it can only be gone on without."""
        return self.kind is not MarkKind.CONDITION_WAIVED

    def without(self) -> "Check":
        """Return going on without it."""
        return replace(self, kind=MarkKind.CONDITION_WAIVED)


def offered(scene: Scene) -> tuple[Check, ...]:
    """Return what can be confirmed now, in the order of its numbers; nine at most."""
    snapshot = scene.snapshot
    if snapshot is None:
        return ()
    found = []
    for item in _ordered(snapshot):
        if item.state is ConditionState.UNKNOWN:
            name = judgement.condition_name(item.limit)
            limit = judgement.condition_limit(item.limit, scene.system)
            seen = item.limit.key is LimitKey.FILTERS_PANELS
            asked = "You have looked" if seen else "You have checked by other means"
            found.append(
                Check(
                    MarkKind.CONFIRMED,
                    item.limit.key.value,
                    f"{asked}: {name} {limit}?",
                    f"{name} {limit}, checked",
                    name if item.limit.key in WAIVABLE else "",
                )
            )
        elif item.state is ConditionState.UNMET and item.limit.key in WAIVABLE:
            name = judgement.condition_name(item.limit)
            found.append(
                Check(
                    MarkKind.CONDITION_WAIVED,
                    item.limit.key.value,
                    f"Not met: {name} {judgement.condition_limit(item.limit, scene.system)}.",
                    "",
                    name,
                )
            )
    for name in dict.fromkeys(
        each.channel for each in snapshot.facts.findings if each.severity is not Severity.NOTE
    ):
        label = _label(scene, name)
        found.append(
            Check(
                MarkKind.PROBE_SEEN_TO,
                name,
                f"You have seen to the probe: {label}?",
                f"{label}, seen to",
            )
        )
    return tuple(found[:_MOST])


class CheckText(Panel):
    """The lists; what was picked is asked for above them, or alone.

    Attributes
    ----------
    picked : Check or None
    alone : bool
        One question was asked from outside: while it stands, nothing else is shown.
    """

    def __init__(self, scene: Scene) -> None:
        super().__init__(scene)
        self.picked: Check | None = None
        self.alone = False

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the question and the lists."""
        pen = scene.pen
        rows = [] if self.picked is None else [*self._question(scene, self.picked), Content("")]
        if rows and self.alone:
            return joined(rows[:-1])
        found = offered(scene)
        if found and not scene.replayed:
            # The list may be longer than the box.
            keys = "1" if len(found) == 1 else f"1 to {len(found)}"
            rows += pen.line((f"{keys} picks what you have checked", pen.palette.faint)).wrap(width)
        rows += [_title(scene, "Target", ""), *self._target(scene, width)]
        rows.append(_title(scene, "Conditions", judgement.whose(scene.job)))
        rows += self._conditions(scene, width)
        if scene.snapshot is not None and scene.snapshot.facts.findings:
            rows += [_title(scene, "Probes", ""), *self._findings(scene, width)]
        named, usual = self._limits(scene, width)
        rows += [_title(scene, "Other limits of this job", ""), *named]
        rows += [_title(scene, "Defaults of this program", _REPLACED), *usual]
        return joined(rows)

    @staticmethod
    def _question(scene: Scene, picked: Check) -> list[Content]:
        """Return what is asked, whose limit it is, and the keys that answer."""
        pen = scene.pen
        rows = [pen.line((picked.asked, f"bold {pen.palette.warning}"))]
        conditions = () if scene.snapshot is None else scene.snapshot.conditions
        for item in conditions:
            if item.limit.key.value == picked.key:
                rows.append(pen.line((plain(item.limit.citation, 300), pen.palette.faint)))
        keys = []
        if picked.confirms:
            line = pen.line((" Enter ", "bold reverse"), " records it")
            keys.append(touch(line, "screen.confirm"))
        if picked.name:
            line = pen.line((" x ", "bold reverse"), " goes on without it, with a reason")
            keys.append(touch(line, "screen.without"))
        return [*rows, Content("  ").join(keys)]

    def _target(self, scene: Scene, width: int) -> list[Content]:
        pen = scene.pen
        if scene.snapshot is None:
            return [pen.line("No values yet.")]
        text, sources = judgement.target(scene.snapshot, scene.system)
        rows = hanging(Content(""), 4, pen.line((text, "bold")), width)
        for source in sources:
            line = pen.line((plain(source, 300), pen.palette.faint))
            rows += hanging(Content(""), 4, line, width)
        return rows

    def _conditions(self, scene: Scene, width: int) -> list[Content]:
        pen = scene.pen
        if scene.snapshot is None:
            return [pen.line("No values yet.")]
        rows: list[Content] = []
        for item in _ordered(scene.snapshot):
            style = pen.palette.warning if item.state is ConditionState.UNMET else pen.palette.ink
            words = (
                f"{judgement.condition_name(item.limit)} "
                f"{judgement.condition_limit(item.limit, scene.system)}, "
                f"{judgement.condition_value(item, scene.system)}"
            )
            text = pen.line((words, style))
            head = self._head(scene, item.limit.key.value, item.state.value, style)
            rows += hanging(head, _INDENT, text, width)
            source = pen.line((plain(item.limit.citation, 300), pen.palette.faint))
            rows += hanging(Content(""), _INDENT, source, width)
        names = unjudged(scene.job)
        if names:
            head = self._head(scene, "", "not judged", pen.palette.ink)
            rows += hanging(head, _INDENT, pen.line(", ".join(names)), width)
            why = f"{why_unjudged(scene.job)}; a profile, or [conditions] in the job file, says it"
            rows += hanging(Content(""), _INDENT, pen.line((why, pen.palette.faint)), width)
        return rows

    def _limits(self, scene: Scene, width: int) -> tuple[list[Content], list[Content]]:
        """Return what else is judged by, each limit with where it was read; defaults apart."""
        pen = scene.pen
        above = () if scene.snapshot is None else scene.snapshot.conditions
        shown = {item.limit.key for item in above}
        rows: tuple[list[Content], list[Content]] = [], []
        for limit in scene.job.limits:
            if limit.key in shown:
                continue
            usual = limit.source.startswith(OF_THE_PROGRAM)
            words = f"{judgement.condition_name(limit)} "
            words += judgement.condition_limit(limit, scene.system)
            said = (
                limit.source.removeprefix(OF_THE_PROGRAM).lstrip(": ") if usual else limit.citation
            )
            source = plain(f"  [{said}]", 300) if said else ""
            line = pen.line(plain(words, 200), (source, pen.palette.faint))
            rows[usual].extend(hanging(Content(""), 4, line, width))
        none = [pen.line("    none")]
        return rows[0] or none, rows[1] or none

    def _findings(self, scene: Scene, width: int) -> list[Content]:
        pen = scene.pen
        rows: list[Content] = []
        snapshot = scene.snapshot
        if snapshot is None:
            return rows
        told = set()
        for item in snapshot.facts.findings:
            grave = item.severity is not Severity.NOTE
            style = pen.palette.warning if grave else pen.palette.ink
            key = item.channel if grave and item.channel not in told else ""
            told.add(key)
            head = self._head(scene, key, item.kind.value, style)
            words = judgement.finding(item, _label(scene, item.channel), snapshot.t)
            rows += hanging(head, _INDENT, pen.line(words), width)
        return rows

    def _head(self, scene: Scene, key: str, state: str, style: str) -> Content:
        """Return the number it is picked by, if it can be, and its state."""
        pen = scene.pen
        numbers = {each.key: number for number, each in enumerate(offered(scene), start=1)}
        number = numbers.get(key)
        if number is None:
            return pen.line("    ", (state, f"bold {style}"))
        taken = self.picked is not None and self.picked.key == key
        box = pen.line((f" {number} ", "bold reverse"), ">" if taken else " ")
        return touch(box, f"screen.pick({number})") + pen.line((state, f"bold {style}"))


class Checks(TextOverlay[Check]):
    """Conditions and probes; dismisses with what was confirmed, or None.

    Parameters
    ----------
    scene : Scene
    pick : str, optional
        Key of what is asked for at once.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(str(number), f"pick({number})", "pick") for number in range(1, _MOST + 1)),
        Binding("enter", "confirm", "record"),
        Binding("x", "without", "go on without"),
        Binding("escape,c,q", "back", "go back"),
    ]

    def __init__(self, scene: Scene, pick: str = "") -> None:
        super().__init__(scene)
        self._text = CheckText(scene)
        self._text.picked = next((each for each in offered(scene) if each.key == pick), None)
        self._text.alone = self._text.picked is not None

    def body(self) -> list[Widget]:
        """Return the text."""
        return [self._text]

    def show(self, scene: Scene) -> None:
        """Follow the session; what has settled itself is no longer asked."""
        super().show(scene)
        picked = self._text.picked
        if picked is not None:
            # What a probe has come to measure is another question than what nothing measures.
            asked = (picked.key, picked.kind)
            now = (each for each in offered(scene) if (each.key, each.kind) == asked)
            self._text.picked = next(now, None)
        self._text.show(scene)

    def action_pick(self, number: int) -> None:
        """Ask before anything is recorded; the same number again takes the pick back."""
        found = offered(self.scene)
        if number > len(found):
            return
        pick = found[number - 1]
        self._text.alone = False
        self._text.picked = None if self._text.picked == pick else pick
        self._text.show(self.scene)
        self.query_one("#box").scroll_home(animate=False)

    def action_confirm(self) -> None:
        """Dismiss with what was picked."""
        if self._text.picked is not None and self._text.picked.confirms:
            self.dismiss(self._text.picked)

    def action_without(self) -> None:
        """Dismiss with going on without what was picked."""
        if self._text.picked is not None and self._text.picked.name:
            self.dismiss(self._text.picked.without())


def _ordered(snapshot: Snapshot) -> list[Condition]:
    """Return the conditions with what calls for a hand first."""
    return sorted(snapshot.conditions, key=lambda each: _FIRST.index(each.state))


def _label(scene: Scene, channel: str) -> str:
    snapshot = scene.snapshot
    labels = (
        {}
        if snapshot is None
        else {each.channel.name: each.channel.role.label for each in snapshot.facts.channels}
    )
    return plain(labels.get(channel, channel), 60)


def _title(scene: Scene, title: str, beside: str) -> Content:
    pen: Pen = scene.pen
    shown = f"   {beside}" if beside else ""
    return pen.line((title, "bold"), (shown, pen.palette.faint))
