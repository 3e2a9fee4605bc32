"""One question with one line to type."""

from collections.abc import Callable
from typing import ClassVar, TypeVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Input, Static

from chargeassist.model.errors import ConfigError
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens.overlay import BACK, Hint, Overlay

Answer = TypeVar("Answer")

NUMBER_FIRST = r"([\d.?+\-−].*)?"
"""A second tap on the key that opened the question must not become its first letter."""


class Line(Input):
    """A line to type in that tells its box when a letter was not taken."""

    class Refused(Message):
        """A letter was typed where none can stand."""

    def restricted(self) -> None:
        """Say so instead of ringing: the bell has a meaning of its own."""
        self.post_message(self.Refused())


def _no_doubt(_answer: object) -> str:
    return ""


class Ask(Overlay[Answer]):
    """Asks until the text can be read; dismisses with what was read, or None after Escape.

    Parameters
    ----------
    scene : Scene
    title : str
    prompt : str or callable
        A callable is asked again whenever the board is drawn, and follows what goes on meanwhile.
    read : callable
        Text to answer; raises ConfigError with the reason.
    prefill : str
    restrict : str or None
        Regular expression the text has to match while it is typed.
    doubt : callable
        Answer to a reason to ask once more; empty for none.
    """

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "back", "go back")]
    hints = (Hint("Enter", "keeps it", "screen.keep"), BACK)

    def __init__(
        self,
        scene: Scene,
        title: str,
        prompt: str | Callable[[Scene], str],
        read: Callable[[str], Answer],
        *,
        prefill: str = "",
        restrict: str | None = None,
        doubt: Callable[[Answer], str] = _no_doubt,
    ) -> None:
        super().__init__(scene)
        self._title = title
        self._prompt = (lambda _scene: prompt) if isinstance(prompt, str) else prompt
        self._asked = Static("", id="asked")
        self._shown = ""
        self._read = read
        self._doubt = doubt
        self._doubted: str | None = None
        self._message = Static("", id="message")
        self._input = Line(value=prefill, restrict=restrict, select_on_focus=True)
        self._input.cursor_blink = False

    def body(self) -> list[Widget]:
        """Return title, prompt, the line to type in, and room for what is wrong with it."""
        pen = self.scene.pen
        self._draw_prompt()
        return [
            Static(pen.line((self._title, "bold")), id="title"),
            self._asked,
            self._input,
            self._message,
        ]

    def on_mount(self) -> None:
        """Type at once."""
        self._input.focus()

    def show(self, scene: Scene) -> None:
        """Follow what goes on: a prompt may say what the scale shows now."""
        super().show(scene)
        self._draw_prompt()

    def _draw_prompt(self) -> None:
        prompt = self._prompt(self.scene)
        if prompt != self._shown:
            self._shown = prompt
            self._asked.update(self.scene.pen.line(prompt))

    def action_keep(self) -> None:
        """Take what is typed, as Enter does."""
        self._take(self._input.value)

    def on_input_changed(self) -> None:
        """Take an old complaint away."""
        self._message.update(Content(""))

    def on_line_refused(self) -> None:
        """Say what comes first where the letter that was typed cannot."""
        pen = self.scene.pen
        text = "! Type the number first, then its unit; what was typed was not taken."
        self._message.update(pen.line((text, f"bold {pen.palette.warning}")))

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take what is typed."""
        event.stop()
        self._take(event.value)

    def _take(self, typed: str) -> None:
        """Read the text, or say what is wrong with it."""
        pen = self.scene.pen
        try:
            answer = self._read(typed)
        except ConfigError as error:
            self._message.update(pen.line((f"! {error}", f"bold {pen.palette.warning}")))
            return
        doubt = self._doubt(answer)
        if doubt and self._doubted != typed:
            self._doubted = typed
            stop = "" if doubt.endswith("?") else "."
            text = f"! {doubt}{stop} Enter once more keeps it."
            self._message.update(pen.line((text, f"bold {pen.palette.warning}")))
            return
        self.dismiss(answer)
