"""The top line: SIMULATED and REPLAY first, then the job, its stage and the session clock."""

from textual.content import Content

from chargeassist.model import display
from chargeassist.model.events import SessionMode
from chargeassist.model.text import plain
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import Panel

_LEAST_NAME = 18
"""Cells of a job's name that tell it from others; what follows may make way for the stage."""


class TopBar(Panel):
    """One line that every screen of the dashboard has."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the line; badges are never cut, the job's name is."""
        pen = scene.pen
        left = Content("")
        for badge in badges(scene):
            left += pen.line((f" {badge} ", "bold reverse"), " ")
        name = pen.line((plain(scene.job.name), "bold"))
        clock = pen.line((self._clock(scene), "bold"))
        room = width - left.cell_length - clock.cell_length - 1
        rest = Content("")
        # The whole name is worth more than any of these, its end less than the stage.
        least = min(_LEAST_NAME, name.cell_length)
        for text in self._rest(scene):
            part = pen.line((f"{text}  ", pen.palette.faint))
            if least + 1 + part.cell_length + rest.cell_length <= room:
                rest = part + rest
            least = name.cell_length
        name = pen.cut(name, max(0, room - rest.cell_length))
        return left + name + Content(" ") + rest + clock

    @staticmethod
    def _rest(scene: Scene) -> list[str]:
        """Return what goes between name and clock where there is room, most important first."""
        if scene.snapshot is None:
            return []
        rest = [scene.snapshot.stage.value, plain(scene.job.refrigerant, 12)]
        if scene.recorded_to is not None:
            path = plain(scene.recorded_to, 200)
            rest.append(f"recording to {path.replace(chr(92), '/').rpartition('/')[2]}")
        return rest

    @staticmethod
    def _clock(scene: Scene) -> str:
        pace = speed_word(scene) if scene.can_pause else ""
        clock = "" if scene.snapshot is None else display.clock(scene.snapshot.t)
        return f"{pace}  {clock}".strip()


def speed_word(scene: Scene) -> str:
    """Return the pace of a session that has one: "20×", "fastest"."""
    return "fastest" if scene.speed is None else f"{scene.speed:g}×"


def badges(scene: Scene) -> list[str]:
    """Return the words that must be seen, most important first."""
    words = ["DRILL"] if scene.veiled else []
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
