"""The keys, always in sight; each can also be clicked or touched."""

from textual.content import Content
from textual.style import Style

from chargeassist.tui.keys import CAUTION, STAGE, Key
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import Panel, joined

_MOST_ROWS = 2


class KeyBar(Panel):
    """Key and label side by side; shorter labels, then two lines where there is no room."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the keys that do something now."""
        rows = _rows(scene, width, short=False, gap="  ")
        if len(rows) > 1:
            rows = _rows(scene, width, short=True, gap=" ")
        if len(rows) > _MOST_ROWS:
            # The values need the line more; help still names the key.
            rows = _rows(scene, width, short=True, gap=" ", without="others")
        return joined(rows)


def _keys(scene: Scene) -> list[Key]:
    step = None if scene.snapshot is None else scene.snapshot.stage_step
    if step is None or scene.replayed:
        tellable = scene.snapshot is not None and scene.snapshot.tellable
        snapshot = scene.snapshot
        shown = [key for key in scene.keys if key.action != "others" or tellable]
        if snapshot is None or scene.replayed or scene.veiled:
            return shown
        if snapshot.unread:
            return [CAUTION, *shown]
        goes_on = snapshot.waits_for
        return shown if goes_on is None else [STAGE[0]._replace(label=goes_on.label), *shown]
    shown = []
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


def _rows(scene: Scene, width: int, *, short: bool, gap: str, without: str = "") -> list[Content]:
    """Return the keys in as few rows as `width` allows; a key never parts from its label."""
    pen = scene.pen
    rows = [Content("")]
    for key, action, label, shorter in _keys(scene):
        if action == without:
            continue
        shown = (short and shorter) or label
        if action == "pause" and scene.paused:
            shown = "go on"
        item = pen.line((f" {key} ", "bold reverse"), f" {shown}")
        item = item.stylize(Style.from_meta({"@click": f"app.{action}"}))
        if not rows[-1].plain:
            rows[-1] = item
        elif rows[-1].cell_length + len(gap) + item.cell_length > width:
            rows.append(item)
        else:
            rows[-1] += Content(gap) + item
    return rows
