"""What needs eyes beside the instruction: the answer to a key, cautions, sources, the hold."""

from textual.content import Content

from chargeassist.model.text import plain
from chargeassist.tui import words
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import Panel, joined


class Watch(Panel):
    """As many lines as there is something to say."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the lines, the most pressing first."""
        pen = scene.pen
        rows = []
        warning = f"bold {pen.palette.warning}"
        if scene.notice:
            rows.append(pen.line((f" {scene.notice} ", "bold reverse")))
        snapshot = scene.snapshot
        if snapshot is None:
            return joined(rows)
        for item in snapshot.cautions:
            if item.cause == "simulated":  # the top line says it for good
                continue
            text = plain(words.caution(item, scene.system), 300)
            rows.append(pen.line(("! ", warning), (text, pen.palette.warning)))
        silent = {item.subject for item in snapshot.cautions if item.cause == "source_lost"}
        for source in snapshot.sources:
            if source.lost_since is not None and source.name not in silent:
                text = words.source_lost(source, snapshot.t)
                rows.append(pen.line(("× ", warning), (text, pen.palette.warning)))
        held = words.hold(snapshot.facts.hold, snapshot.t, brief=width < 76)
        if held:
            style = pen.palette.ink if snapshot.facts.hold.held else warning
            rows.append(words.labelled(pen, "frequency", pen.line((held, style)), 10))
        if snapshot.notes:
            t, text = snapshot.notes[-1]
            note = pen.line((f"{plain(text, 160)}", pen.palette.faint))
            rows.append(words.labelled(pen, "note", note, 10))
        spoilt = "; ".join(filter(None, (words.spoilt(each) for each in snapshot.sources)))
        if spoilt:
            rows.append(words.labelled(pen, "sources", pen.line((spoilt, pen.palette.faint)), 10))
        return joined(rows)
