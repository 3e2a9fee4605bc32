"""The dashboard: paints the newest snapshot, and turns keys into marks of the session."""

import asyncio
import contextlib
import os
import signal
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.screen import Screen

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Outcome
from chargeassist.model.text import plain
from chargeassist.session.keeper import UNATTENDED_S
from chargeassist.trainer.replay_desk import ReplayDesk
from chargeassist.tui import keys
from chargeassist.tui.control import SessionControl
from chargeassist.tui.desk_keys import DeskKeys
from chargeassist.tui.ground import keep_ground
from chargeassist.tui.keys import Key
from chargeassist.tui.pen import DARK, LIGHT, Pen, terminal_takes_unicode
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens.board import Board, SessionScreen
from chargeassist.tui.screens.failure import Failure
from chargeassist.tui.screens.help import Help
from chargeassist.tui.screens.leave import Leave
from chargeassist.tui.screens.overlay import Overlay
from chargeassist.tui.sound import TWICE, Bell
from chargeassist.tui.themes import DARK_THEME, LIGHT_THEME
from chargeassist.tui.trend import Trend

PAINT_S = 0.25
"""Snapshots are painted at most four times a second, always the newest one."""

_NOTICE_S = 6.0
_OVERDUE_PERIODS = 4.0
_BETWEEN_BELLS_S = 0.5


class Dashboard(DeskKeys):
    """One session on the screen; returns the outcome the technician chose.

    Parameters
    ----------
    controller : SessionControl
    system : UnitSystem, optional
        Units at the start; those of the job when left out.
    unicode : bool, optional
        Whether the terminal shows more than ASCII; by its encoding when left out.
    sound : bool, optional
        Whether the bell rings at the start.
    clock : callable, optional
        Monotonic seconds, for the age of what is shown.

    Attributes
    ----------
    failure : Exception or None
        What broke the session off, if anything did.
    paints : int
        How often the board has been drawn.
    """

    CSS_PATH = Path(__file__).with_name("app.tcss")
    TITLE = "chargeassist"
    ENABLE_COMMAND_PALETTE = False
    ALLOW_SELECT = False
    HORIZONTAL_BREAKPOINTS = [  # noqa: RUF012 - textual declares it so that ClassVar is refused
        (0, "-narrow"),
        (80, "-usual"),
        (110, "-wide"),
    ]
    VERTICAL_BREAKPOINTS = [  # noqa: RUF012 - as above
        (0, "-short"),
        (24, "-medium"),
        (30, "-high"),
        (37, "-tall"),
        (46, "-huge"),
    ]
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("u", "units", "units"),
        Binding("d", "ground", "dark or light"),
        Binding("l", "large", "large print"),
        Binding("m", "mute", "bell on or off"),
        Binding("space", "pause", "pause"),
        Binding("minus", "slower", "slower"),
        Binding("plus,equals_sign", "faster", "faster"),
        Binding("question_mark", "help", "help"),
        Binding("q", "leave", "quit"),
    ]

    def __init__(
        self,
        controller: SessionControl,
        *,
        system: UnitSystem | None = None,
        unicode: bool | None = None,
        sound: bool = True,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__(controller, system or UnitSystem(controller.job.units or UnitSystem.SI))
        self.register_theme(DARK_THEME)
        self.register_theme(LIGHT_THEME)
        self.theme = DARK_THEME.name
        self.failure: Exception | None = None
        self.paints = 0
        self._unicode = terminal_takes_unicode() if unicode is None else unicode
        self._clock = clock
        self._trend = Trend()
        self._calls = Bell()
        self._sound = sound
        self._arrived_at: float | None = None
        self._painted: Scene | None = None
        self._stopping = False
        self._refused = False
        self._notice = ""
        self._notice_until = 0.0
        self._board = self._new_board(self._scene())
        self.set_class(not self._unicode, "-ascii")

    def _new_board(self, scene: Scene) -> SessionScreen:
        return Board(scene)

    def _is_drill(self) -> bool:
        """Return whether the tool's verdicts are hidden."""
        return False

    def get_default_screen(self) -> Screen[None]:
        """Return the board."""
        return self._board

    def on_mount(self) -> None:
        """Start the session and the painting."""
        self._controller.wait_for_disk(self._wait_for_disk)
        self.set_interval(PAINT_S, self.paint)
        self.run_worker(self._run_session(), name="session", exit_on_error=False)
        for name in ("SIGTERM", "SIGHUP"):
            # Not on every system nor in every thread; there it ends as in a crash, and is resumed.
            with contextlib.suppress(NotImplementedError, AttributeError, RuntimeError, ValueError):
                number = getattr(signal, name)
                asyncio.get_running_loop().add_signal_handler(number, self._ended_by, number)

        if self._driver is not None and self._driver.is_web:
            self.set_interval(1.0, partial(self._end_without, os.getppid()))
        keep_ground(self)

    def _ended_by(self, number: int) -> None:
        """End by a signal; where the terminal was closed, a live session stays to be resumed."""
        if number == getattr(signal, "SIGHUP", None):
            self._controller.break_off()
        self.exit(return_code=128 + number)

    def _end_without(self, server: int) -> None:
        """End when the server is gone: no browser can come back to this dashboard."""
        if os.getppid() != server:
            self.exit(return_code=1)

    def on_app_focus(self) -> None:
        """Draw the whole screen: the browser that looks now may never have seen it."""
        self.refresh()

    async def on_exit_app(self) -> None:
        """Close the record first, whoever asks the program to end: a signal, a browser's server."""
        if self._ended:
            return
        self._stopping = True
        # Nobody may be there any more to free a disk that refuses the end.
        asyncio.get_running_loop().call_later(UNATTENDED_S, self._controller.give_up)
        with contextlib.suppress(Exception):  # what breaks a session is told by `_run_session`
            await self._controller.stop(Outcome.ABANDONED)

    async def _run_session(self) -> None:
        try:
            await self._controller.run(self._take)
        except Exception as error:  # noqa: BLE001 - top of the task; shown and kept for the caller
            self.failure = error
        self._ended = True
        if self.failure is not None:
            self.push_screen(Failure(self._scene(), self.failure), self._close)
        self.paint()

    def _close(self, _answer: bool | None = None) -> None:  # noqa: FBT001 - a screen's callback
        self.exit(return_code=1 if self.failure is not None else 0)

    def _take(self, snapshot: Snapshot) -> None:
        if self._latest is not None and snapshot.t < self._latest.t:
            self._trend = Trend()  # a replay that was gone back in
        self._latest = snapshot
        self._read_now &= set(snapshot.unread)  # one that comes again is to be read again
        self._arrived_at = self._clock()
        self._trend.add(snapshot)
        self.ask_next()
        self._ring(self._calls.rings(snapshot))

    def _ring(self, times: int) -> None:
        """Ring where somebody works at a unit: a replay calls nobody, a drill tells nothing."""
        if not times or not self._sound or self._controller.replayed or self._is_drill():
            return
        self.bell()
        if times == TWICE:
            self.set_timer(_BETWEEN_BELLS_S, self.bell)

    # ---- painting

    def paint(self) -> None:
        """Draw the board where anything on it has changed since the last time."""
        scene = self._scene()
        if scene == self._painted or not self._board.is_mounted:
            return
        self._painted = scene
        self.paints += 1
        self._board.show(scene)
        for screen in self.screen_stack:
            if isinstance(screen, Overlay):
                screen.show(scene)

    def _scene(self) -> Scene:
        controller = self._controller
        now = self._clock()
        if now >= self._notice_until:
            self._notice = ""
        return Scene(
            job=controller.job,
            mode=controller.mode,
            replayed=controller.replayed,
            snapshot=self._latest,
            system=self._system,
            pen=Pen(DARK if self.current_theme.dark else LIGHT, self._unicode),
            trend=self._trend,
            recorded_to=controller.record_path,
            paused=controller.paused,
            can_pause=controller.can_pause,
            speed=controller.speed if controller.can_pause else None,
            keys=self._keys(),
            veiled=self._is_drill(),
            ended=self._ended or (self._latest is not None and self._latest.finished),
            step_open=self._step_is_open(),
            silent_s=self._silent_s(now),
            notice=self._notice,
        )

    def _keys(self) -> tuple[Key, ...]:
        """Return the keys that do something now."""
        if isinstance(self._controller, ReplayDesk):
            return keys.DESK
        if self._controller.replayed:
            return keys.REPLAY
        return keys.SIMULATED if self._controller.can_pause else keys.LIVE

    def _silent_s(self, now: float) -> float | None:
        if self._arrived_at is None or self._ended or self._controller.paused:
            return None
        silent_s = now - self._arrived_at
        overdue_s = max(5.0, _OVERDUE_PERIODS * self._controller.job.processing.period_s)
        # Whole seconds: a new age is a new scene.
        return float(int(silent_s)) if silent_s > overdue_s else None

    def tell(self, text: str) -> None:
        """Answer a key: show one line for a few seconds."""
        self._notice = plain(text, 300)
        self._notice_until = self._clock() + _NOTICE_S
        self.paint()

    # ---- keys that mark nothing

    def action_units(self) -> None:
        """Change between the two systems of units."""
        self._system = UnitSystem.SI if self._system is UnitSystem.US else UnitSystem.US
        self.paint()

    def action_ground(self) -> None:
        """Change between dark and light."""
        self.theme = (LIGHT_THEME if self.current_theme.dark else DARK_THEME).name
        self.paint()

    def action_large(self) -> None:
        """Change between large print and the whole board."""
        self._board.toggle_class("-large")
        self._painted = None
        self.call_after_refresh(self.paint)

    def action_mute(self) -> None:
        """Let the bell be still, or ring again."""
        self._sound = not self._sound
        self.tell(
            "Bell on: once when settled or something is to do, twice for trouble."
            if self._sound
            else "Bell off."
        )

    def action_pause(self) -> None:
        """Hold time, or let it go on."""
        if not self._controller.can_pause:
            self.tell("A live session cannot be paused.")
        elif not self._ended:
            self._controller.toggle_pause()
            self.paint()

    def action_slower(self) -> None:
        """Take the next slower pace."""
        self._change_speed(-1)

    def action_faster(self) -> None:
        """Take the next faster pace."""
        self._change_speed(1)

    def _change_speed(self, change: int) -> None:
        if not self._controller.can_pause:
            self.tell("A live session goes at its own pace.")
        elif not self._ended:
            self._controller.change_speed(change)
            self.paint()

    def action_help(self) -> None:
        """Show the help."""
        self.push_screen(Help(self._scene()))

    def action_leave(self) -> None:
        """Ask how the session ends; one that has ended is left at once."""
        if self._ended:
            self._close()
        elif self._latest is not None and self._latest.finished and not self._stopping:
            self._leave(Outcome.ABANDONED)  # a recording at its end, which could be gone back in
        elif self._stopping:
            self._give_up()
        elif not any(isinstance(screen, Leave) for screen in self.screen_stack):
            self.push_screen(Leave(self._scene()), self._leave)

    def _give_up(self) -> None:
        """Wait no longer for a disk that refuses the end."""
        if not self._refused:
            self.tell("Still closing the record.")
            return
        self.tell("Given up: what was not written is lost.")
        self._controller.give_up()

    def _wait_for_disk(self, why: str) -> None:
        self._refused = True
        self.tell(f"The record cannot be closed: {why}. q again: give up what is not written.")

    async def action_quit(self) -> None:
        """Ask first: control-Q must not end a session by a slip."""
        self.action_leave()

    def action_help_quit(self) -> None:
        """Ask as well: control-C is what a terminal has taught."""
        self.action_leave()

    def _leave(self, outcome: Outcome | None) -> None:
        if outcome is not None and not self._ended:
            self._stopping = True
            self.run_worker(self._stop(outcome), name="stop", exit_on_error=False)

    async def _stop(self, outcome: Outcome) -> None:
        self.tell("Closing the record …")
        try:
            await self._controller.stop(outcome)
        except Exception as error:  # noqa: BLE001 - top of the task; shown and kept for the caller
            self.failure = error
            self._ended = True
            self.push_screen(Failure(self._scene(), error), self._close)
            return
        if self.failure is None:
            self.exit(outcome)
