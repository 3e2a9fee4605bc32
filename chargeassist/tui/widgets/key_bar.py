"""The keys, always in sight; each can also be clicked or touched."""

from textual.content import Content

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.events import Stage
from chargeassist.tui.answers import lacking_amount
from chargeassist.tui.keys import CAUTION, STAGE, Key
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import Panel, joined, touch

_MOST_ROWS = 2
_ROOMY = 30
"""Lines of a screen on which the labels may take a second one."""

_AFTER_THE_END = {"help", "leave", "checks", "stages", "why", "units"}
"""What still does something once nothing more is recorded."""


class KeyBar(Panel):
    """Key and label side by side; two lines, then shorter labels where there is no room."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the keys that do something now."""
        shown = _keys(scene)
        whole = _rows(scene, shown, width, short=False, gap="  ")
        rows = _rows(scene, shown, width, short=True, gap=" ")
        # On a low screen the values need the second line, unless short labels take it as well.
        if len(whole) <= max(len(rows), _MOST_ROWS if self.app.size.height >= _ROOMY else 1):
            rows = whole
        if len(rows) > _MOST_ROWS:
            # The sentence says what Enter answers.
            shown = [key._replace(label="answer") if _is_long(key) else key for key in shown]
            rows = _rows(scene, shown, width, short=True, gap=" ")
        if len(rows) > _MOST_ROWS:
            # Help still names the key.
            shown = [key for key in shown if key.action != "others"]
            rows = _rows(scene, shown, width, short=True, gap=" ")
        return joined(rows)


def _is_long(key: Key) -> bool:
    return key.action == "done" and len(key.label) > len("answer")


def _keys(scene: Scene) -> list[Key]:
    if scene.ended and not scene.replayed:
        return [key for key in scene.keys if key.action in _AFTER_THE_END]
    step = None if scene.snapshot is None else scene.snapshot.stage_step
    if step is None or scene.replayed:
        tellable = scene.snapshot is not None and scene.snapshot.tellable
        snapshot = scene.snapshot
        shown = [key for key in scene.keys if key.action != "others" or tellable]
        if snapshot is not None and not scene.veiled:
            shown = [
                _named(key, scene, snapshot)
                for key in shown
                if _does_something(key, scene, snapshot)
            ]
        if snapshot is None or scene.replayed or scene.veiled:
            return shown
        if snapshot.unread:
            return [CAUTION, *shown]
        goes_on = snapshot.waits_for
        return shown if goes_on is None else [STAGE[0]._replace(label=goes_on.label), *shown]
    shown = []
    if scene.snapshot is not None and scene.snapshot.stage is Stage.WEIGH_IN:
        # The one of these stages in which refrigerant goes in.
        steps = [key for key in scene.keys if key.action in {"begin_step", "end_step"}]
        does = [key for key in steps if _does_something(key, scene, scene.snapshot)]
        shown += [_named(key, scene, scene.snapshot) for key in does]
    for key in STAGE:
        if key.action == "done":
            if step.next_mark is not None:
                shown.append(key._replace(label=step.next_mark.label))
        elif key.action == "others":
            if step.other_marks:
                shown.append(key)
        elif scene.can_pause or key.action not in {"pause", "slower", "faster"}:
            shown.append(key)
    return shown


def _named(key: Key, scene: Scene, snapshot: Snapshot) -> Key:
    """Return a key by what it does now: after a step, `e` tells its amount."""
    step = lacking_amount(snapshot)
    if key.action != "end_step" or scene.step_open or step is None:
        return key
    return key._replace(label=f"amount of step {step.number}", short="amount")


def _does_something(key: Key, scene: Scene, snapshot: Snapshot) -> bool:
    """Return whether a key of the charge would be more than answered with why it does nothing."""
    hold = snapshot.facts.hold
    if key.action == "begin_step":
        return not scene.step_open and not snapshot.unread
    if key.action == "end_step":
        return scene.step_open or lacking_amount(snapshot) is not None
    if key.action == "frequency_held":
        return hold.required_hz is not None and not hold.held
    if key.action == "frequency_left":
        return hold.required_hz is not None and hold.held
    return True


def _rows(scene: Scene, keys: list[Key], width: int, *, short: bool, gap: str) -> list[Content]:
    """Return the keys in as few rows as `width` allows; a key never parts from its label."""
    pen = scene.pen
    rows = [Content("")]
    before = Content("")
    for key, action, label, shorter in keys:
        shown = shorter if short and shorter is not None else label
        if action == "pause" and scene.paused:
            shown = "go on"
        item = pen.line((f" {key} ", "bold reverse"), f" {shown}" if shown else "")
        item = before + touch(item, f"app.{action}")
        before = Content("") if shown else item
        if before.plain:
            continue  # the next key's label is its own too
        if not rows[-1].plain:
            rows[-1] = item
        elif rows[-1].cell_length + len(gap) + item.cell_length > width:
            rows.append(item)
        else:
            rows[-1] += Content(gap) + item
    return rows
