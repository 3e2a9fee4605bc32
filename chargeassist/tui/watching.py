"""A session elsewhere on the screen: sentence, judged value, channels. It is only looked at."""

import time
from collections.abc import Callable
from typing import ClassVar

from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.geometry import Size
from textual.widgets import Static

from chargeassist.model import display
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action
from chargeassist.session.board import Board
from chargeassist.session.published import UNITS, channel_of
from chargeassist.session.watching import DERIVED, Watched
from chargeassist.stream.facts import SettleState
from chargeassist.tui.ground import keep_ground
from chargeassist.tui.pen import DARK, LIGHT, Pen, terminal_takes_unicode
from chargeassist.tui.themes import DARK_THEME, LIGHT_THEME
from chargeassist.tui.widgets.banner import largest
from chargeassist.tui.widgets.big_text import big
from chargeassist.tui.widgets.channel_table import brief_label
from chargeassist.tui.widgets.panel import SLIM, joined
from chargeassist.tui.words import capitals

PAINT_S = 0.5
_QUANTITIES = {unit: quantity for quantity, unit in UNITS.items()}
_LABELS = {role.value: role.label for role in Role}
_LABEL, _VALUE = 28, 18


class WatchScreen(App[None]):
    """Shows what `board` hears.

    Parameters
    ----------
    board : Board
    system : UnitSystem
    unicode : bool, optional
        Whether the terminal shows more than ASCII; by its encoding when left out.
    clock : callable, optional
        Monotonic seconds.
    """

    ENABLE_COMMAND_PALETTE = False
    TITLE = "chargeassist watch"
    CSS = """
        Screen { overflow: hidden; }
        Static { width: 100%; height: auto; padding: 0 1; }
        #banner { padding: 0; }
        #channels { height: 1fr; }
        #foot { dock: bottom; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("u", "units", "units"),
        Binding("d", "ground", "dark or light"),
        Binding("q", "quit", "quit"),
    ]

    def __init__(
        self,
        board: Board,
        system: UnitSystem,
        *,
        unicode: bool | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__()
        self.register_theme(DARK_THEME)
        self.register_theme(LIGHT_THEME)
        self.theme = DARK_THEME.name
        self.watched = Watched()
        self._board = board
        self._system = system
        self._unicode = terminal_takes_unicode() if unicode is None else unicode
        self._clock = clock

    def compose(self) -> ComposeResult:
        """Put the parts one below the other."""
        for name in ("top", "banner", "sentence", "value", "channels", "foot"):
            yield Static(id=name)

    def on_mount(self) -> None:
        """Begin to listen and to paint."""
        keep_ground(self)
        self.set_interval(PAINT_S, self.paint)
        self.run_worker(self._board.watch(self._hear, self._note), name="board")
        self.paint()

    def _hear(self, subject: str, payload: bytes) -> None:
        if self.watched.hear(subject, payload, self._clock()):
            self.bell()

    def _note(self, text: str) -> None:
        self.watched.connection = text

    def paint(self) -> None:
        """Draw what is known now."""
        pen = Pen(DARK if self.current_theme.dark else LIGHT, self._unicode)
        width = self.size.width
        parts = {
            "top": self._top(pen),
            "banner": self._banner(pen, width),
            "sentence": pen.line(self.watched.words.get(f"sentence/{self._system.value}", "")),
            "value": self._value(pen),
            "channels": self._channels(pen, self.query_one("#channels", Static).content_size),
            "foot": self._foot(pen),
        }
        for name, content in parts.items():
            self.query_one(f"#{name}", Static).update(content)

    def _top(self, pen: Pen) -> Content:
        words = self.watched.words
        mode = words.get("mode", "")
        real = mode in {"", "field"}
        first = "" if real else pen.line((f" {mode.upper()} ", "bold reverse"), " ")
        tail = "  ".join(filter(None, (words.get("refrigerant"), words.get("stage"))))
        return pen.line(("WATCHING ", "bold"), first, (words.get("job", "?"), "bold"), f"  {tail}")

    def _banner(self, pen: Pen, width: int) -> Content:
        words = self.watched.words
        text = capitals(words.get(f"headline/{self._system.value}", "no verdict yet"))
        action = words.get("action", "")
        if self.watched.ended:
            text, action = "ENDED", ""  # nobody is to follow the last instruction any more
        known = action in tuple(Action)
        ground = pen.palette.fills[Action(action) if known else Action.WAIT]
        style = f"bold {pen.palette.on_fill} on {ground}"
        icon = action if known else Action.WAIT.value
        rows_at_most = 6 if width < SLIM else 3
        shown = largest(text, icon, width - 2, rows_at_most) if pen.unicode else None
        if shown is None:
            shown = [text]
        rows = ["", *(f"  {line}" for line in shown), ""]
        return joined([pen.line((row[:width].ljust(width), style)) for row in rows])

    def _value(self, pen: Pen) -> Content:
        values, words = self.watched.values, self.watched.words
        judged = words.get("judged", "subcooling")
        if judged not in values:
            return pen.line((f"{judged}: no value", pen.palette.faint))
        system, slim = self._system, self.size.width < SLIM
        gap = " " if slim else "   "
        number = display.difference_number(values[judged][0], system).replace("−", "-")
        expanded = values.get(f"{judged}/expanded")
        beside = f"{display.difference_unit(system)}, U unknown"
        if expanded is not None:
            beside = f"± {display.difference(expanded[0], system)}"
        band = [values[key][0] for key in ("target/low", "target/high") if key in values]
        if len(band) == 2:
            low = display.difference_number(band[0], system)
            to = "–" if slim else " to "
            beside += f"{gap}target {low}{to}{display.difference(band[1], system)}"
        rows = [pen.line((judged, "bold"), f"{gap}{beside}")]
        shown = big(number) if pen.unicode else None
        rows += [pen.line((row, "bold")) for row in shown or [number]]
        state = words.get("settling", "")
        if state in tuple(SettleState):
            line = pen.state(SettleState(state))
            if "settling/seconds" in values:
                line += pen.line(f"   about {display.duration(values['settling/seconds'][0])}")
            rows.append(line)
        return joined(rows)

    def _channels(self, pen: Pen, room: Size) -> Content:
        """Return a line for each channel; without room for all, the last one counts the others."""
        rows = []
        wide = room.width >= _LABEL + 1 + _VALUE
        label_cells = _LABEL if wide else max(1, room.width - _VALUE - 1)
        for name, (value, unit) in self.watched.values.items():
            if name in DERIVED:
                continue
            quantity = _QUANTITIES.get(unit)
            channel, reference = channel_of(name)
            text = f"{value:g} {unit}"
            if quantity is not None:
                text = display.reading(value, quantity, reference, self._system)
            label = _LABELS.get(channel, channel)
            name_row = pen.cut(pen.line(label if wide else brief_label(label)), label_cells)
            rows.append(name_row + pen.line(" ", (f"{text:>{_VALUE}}", "bold")))
        if len(rows) > room.height > 0:
            more = len(rows) - room.height + 1
            rows[room.height - 1 :] = [pen.line((f"{more} more", pen.palette.faint))]
        return joined(rows)

    def _foot(self, pen: Pen) -> Content:
        watched = self.watched
        silent_s = watched.silent_s(self._clock())
        warning = f"bold {pen.palette.warning}"
        rows = []
        if watched.ended:
            rows.append(pen.line(("The session has ended.", "bold")))
        elif silent_s is not None:
            rows.append(pen.line((f"! nothing new for {display.duration(silent_s)}", warning)))
        elif watched.heard_at is None:
            rows.append(pen.line(("no values yet", pen.palette.faint)))
        if watched.not_read:
            rows.append(pen.line((f"! {watched.not_read} packs could not be read", warning)))
        rows.append(pen.line((watched.connection, pen.palette.faint)))
        rows.append(
            pen.line(
                (" u ", "bold reverse"), " units  ", (" d ", "bold reverse"), " dark or light  ",
                (" q ", "bold reverse"), " quit",
            )
        )  # fmt: skip
        return joined(rows)

    def action_units(self) -> None:
        """Change between the two systems of units."""
        self._system = UnitSystem.SI if self._system is UnitSystem.US else UnitSystem.US
        self.paint()

    def action_ground(self) -> None:
        """Change between dark and light."""
        self.theme = (LIGHT_THEME if self.current_theme.dark else DARK_THEME).name
        self.paint()
