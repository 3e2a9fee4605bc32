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
    ("u", "units", "units"),
    ("space", "pause", "pause"),
    ("?", "help", "help"),
    ("q", "leave", "quit"),
)
"""Key, action of the dashboard, label."""

_SHORT = {
    "step begins": "begin",
    "step ends": "end",
    "recovered": "recov.",
    "frequency held": "freq.",
    "not held": "not",
}


class KeyBar(Panel):
    """Key and label side by side; shorter labels, then two lines where there is no room."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the keys that do something now."""
        keys = [key for key in KEYS if key[0] != "space" or scene.can_pause]
        long = _rows(scene, keys, {}, width)
        return joined(long if len(long) == 1 else _rows(scene, keys, _SHORT, width))


def _rows(
    scene: Scene, keys: list[tuple[str, str, str]], short: dict[str, str], width: int
) -> list[Content]:
    """Return the keys in as few rows as `width` allows; a key never parts from its label."""
    pen = scene.pen
    rows = [Content("")]
    for key, action, label in keys:
        shown = "go on" if action == "pause" and scene.paused else short.get(label, label)
        item = pen.line((f" {key} ", "bold reverse"), f" {shown}")
        item = item.stylize(Style.from_meta({"@click": f"app.{action}"}))
        gap = Content("  " if rows[-1].plain else "")
        if (rows[-1] + gap + item).cell_length > width and rows[-1].plain:
            rows.append(item)
        else:
            rows[-1] += gap + item
    return rows
