"""The keys, always in sight; each can also be clicked or touched."""

from textual.content import Content
from textual.style import Style

from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import Panel, joined

KEYS = (
    ("a", "begin_step", "step begins"),
    ("e", "end_step", "step ends"),
    ("r", "recovered", "recovered"),
    ("f", "frequency_held", "frequency held"),
    ("g", "frequency_left", "not held"),
    ("n", "note", "note"),
    ("c", "checks", "conditions"),
    ("s", "stages", "stages"),
    ("w", "why", "why"),
    ("u", "units", "units"),
    ("space", "pause", "pause"),
    ("?", "help", "help"),
    ("q", "leave", "quit"),
)
"""Key, action of the dashboard, label."""

STAGE_KEYS = (
    ("enter", "done", "done"),
    ("o", "others", "tell else"),
    ("s", "stages", "stages"),
    ("n", "note", "note"),
    ("u", "units", "units"),
    ("space", "pause", "pause"),
    ("?", "help", "help"),
    ("q", "leave", "quit"),
)
"""The same in a stage in which the unit does not run; "done" says what it tells."""

_SHORT = {
    "step begins": "begin",
    "step ends": "end",
    "recovered": "out",
    "frequency held": "held",
    "not held": "lost",
    "units": "unit",
    "conditions": "cond",
}


class KeyBar(Panel):
    """Key and label side by side; shorter labels, then two lines where there is no room."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the keys that do something now."""
        keys = [key for key in _keys(scene) if key[0] != "space" or scene.can_pause]
        rows = _rows(scene, keys, {}, width, gap="  ")
        if len(rows) > 1:
            rows = _rows(scene, keys, _SHORT, width, gap=" ")
        return joined(rows)


def _keys(scene: Scene) -> list[tuple[str, str, str]]:
    step = None if scene.snapshot is None else scene.snapshot.stage_step
    if step is None:
        return list(KEYS)
    keys = []
    for key, action, label in STAGE_KEYS:
        if action == "done":
            if step.next_mark is not None:
                keys.append((key, action, step.next_mark.label))
        elif action != "others" or step.other_marks:
            keys.append((key, action, label))
    return keys


def _rows(
    scene: Scene, keys: list[tuple[str, str, str]], short: dict[str, str], width: int, *, gap: str
) -> list[Content]:
    """Return the keys in as few rows as `width` allows; a key never parts from its label."""
    pen = scene.pen
    rows = [Content("")]
    for key, action, label in keys:
        shown = "go on" if action == "pause" and scene.paused else short.get(label, label)
        item = pen.line((f" {key} ", "bold reverse"), f" {shown}")
        item = item.stylize(Style.from_meta({"@click": f"app.{action}"}))
        if not rows[-1].plain:
            rows[-1] = item
        elif rows[-1].cell_length + len(gap) + item.cell_length > width:
            rows.append(item)
        else:
            rows[-1] += Content(gap) + item
    return rows
