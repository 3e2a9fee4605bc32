"""The top line: SIMULATED and REPLAY first, then the job, its stage and the session clock."""

from textual.content import Content

from chargeassist.model import display
from chargeassist.model.events import SessionMode
from chargeassist.model.text import plain
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import Panel


class TopBar(Panel):
    """One line that every screen of the dashboard has."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the line; badges are never cut, the job's name is."""
        pen = scene.pen
        left = Content("")
        for badge in badges(scene):
            left += pen.line((f" {badge} ", "bold reverse"), " ")
        right = pen.line((self._clock(scene), "bold"))
        if scene.snapshot is not None and width >= 76:
            what = f"{plain(scene.job.refrigerant, 12)}  {scene.snapshot.stage.value}  "
            right = pen.line((what, pen.palette.faint)) + right
        if scene.recorded_to is not None and width >= 110:
            path = plain(scene.recorded_to, 200)
            name = path.replace("\\", "/").rpartition("/")[2]
            right = pen.line((f"recording to {name}  ", pen.palette.faint)) + right
        room = max(0, width - left.cell_length - right.cell_length - 1)
        name_part = pen.cut(pen.line((plain(scene.job.name), "bold")), room)
        return left + name_part + Content(" ") + right

    @staticmethod
    def _clock(scene: Scene) -> str:
        return "" if scene.snapshot is None else display.clock(scene.snapshot.t)


def badges(scene: Scene) -> list[str]:
    """Return the words that must be seen, most important first."""
    words = []
    if scene.mode is SessionMode.SIMULATED:
        words.append("SIMULATED")
    if scene.replayed:
        words.append("REPLAY")
    if scene.ended:
        words.append("ENDED")
    elif scene.paused:
        words.append("PAUSED")
    elif scene.silent_s is not None:
        words.append(f"SHOWN {display.duration(scene.silent_s)} AGO")
    if scene.recorded_to is None and not scene.replayed and not words:
        words.append("NOT RECORDED")
    return words
