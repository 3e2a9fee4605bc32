"""What the steps of the guided probes screen share: the desk they work at, and their frame."""

import asyncio
from collections.abc import Coroutine, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.events import DescendantFocus, Resize
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Input, Static

from chargeassist.model import display
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ChargeAssistError
from chargeassist.model.units import Reference, find_unit
from chargeassist.session.wiring.arrived import Choice, Place
from chargeassist.tui.pen import Pen
from chargeassist.tui.widgets.panel import joined

NARROW = 66
"""Fewer columns, as on a phone, have no room for two things beside each other."""

_LEFT_OF_LIST = 4
"""Columns that a list leaves: its margins, the bar at its side."""

STEPS = ("1 where", "2 what arrives", "3 role and unit", "4 job section")
PAINT_S = 0.25


@dataclass(slots=True)
class Desk:
    """What is being put together.

    Attributes
    ----------
    base : Path
        Folder that relative paths in addresses start from.
    job : Path or None
        The job file named on the command line.
    system : UnitSystem
        How converted values are shown.
    pen : Pen
    choices : list of Choice
    alone : list of str
        Addresses that name their own probes.
    warned : bool
        Whether it was told that leaving writes nothing.
    """

    base: Path
    job: Path | None
    system: UnitSystem
    pen: Pen
    choices: list[Choice] = field(default_factory=list)
    alone: list[str] = field(default_factory=list)
    warned: bool = False

    @property
    def empty(self) -> bool:
        """Whether there is nothing to write."""
        return not self.choices and not self.alone

    def choice_at(self, url: str, place: Place) -> Choice | None:
        """Return what a field was chosen to be."""
        return next((c for c in self.choices if (c.url, c.place) == (url, place)), None)

    def others(self, url: str, place: Place) -> list[Choice]:
        """Return the choices of all other fields."""
        return [c for c in self.choices if (c.url, c.place) != (url, place)]


def shown_value(
    role: Role, unit_symbol: str, reference: Reference | None, value_si: float, system: UnitSystem
) -> str:
    """Return a value as it will stand on the board; a vacuum in the unit it is read in."""
    if role is Role.VACUUM:
        unit = find_unit(unit_symbol, role.quantity)
        return f"{unit.from_si(value_si):.4g} {unit.symbol}"
    return display.reading(value_si, role.quantity, reference, system)


def chosen_value(choice: Choice, number: float | None, system: UnitSystem) -> str:
    """Return the number of a chosen field, converted; a dash where there is none."""
    if number is None:
        return "–"
    unit = find_unit(choice.unit, choice.role.quantity)
    value_si = unit.to_si(number * choice.scale)
    return shown_value(choice.role, choice.unit, unit.reference, value_si, system)


class Step(Screen[None]):
    """One step: its place in the order above, a line of messages and the keys below."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("u", "units", "units")]
    HORIZONTAL_BREAKPOINTS = [  # noqa: RUF012 - textual declares it so that ClassVar is refused
        (0, "-narrow"),
        (NARROW, "-usual"),
    ]
    number = 0
    keys: tuple[tuple[str, str], ...] = ()
    typing: tuple[tuple[str, str], ...] = ()
    """The keys while a line is typed in, where every letter belongs to that line."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self._message = Static("", id="message")
        self._going_on: asyncio.Task[None] | None = None
        self._refused = False
        self._types = False

    def compose(self) -> ComposeResult:
        """Put the frame around the body."""
        yield Static(self._steps(self.app.size.width), classes="one", id="steps")
        yield from self.body()
        yield self._message
        yield Static(self._keys(self.app.size.width), id="keys")

    def on_resize(self, event: Resize) -> None:
        """Fold keys and steps anew."""
        self.query_one("#keys", Static).update(self._keys(event.size.width))
        self.query_one("#steps", Static).update(self._steps(event.size.width))

    def on_descendant_focus(self, event: DescendantFocus) -> None:
        """Name the keys that do something where the cursor is now."""
        self._types = bool(self.typing) and isinstance(event.widget, Input)
        self.query_one("#keys", Static).update(self._keys(self.app.size.width))

    def body(self) -> Iterator[Widget]:
        """Yield what is between the frame."""
        raise NotImplementedError

    def _steps(self, width: int) -> Content:
        """Return all steps with this one marked; this one alone where there is no room."""
        pen = self.desk.pen
        parts: list[tuple[str, str]] = [("connect probes  ", "bold")]
        for number, name in enumerate(STEPS, start=1):
            here = number == self.number
            mark = pen.pick("▶", ">") if here else " "
            parts.append((f" {mark}{name}", "bold" if here else pen.palette.faint))
        line = pen.line(*parts)
        if line.cell_length <= width - 2:
            return line
        name = STEPS[self.number - 1].partition(" ")[2]
        return pen.line((f"{self.number} of {len(STEPS)}: {name}", "bold"))

    def _keys(self, width: int) -> Content:
        """Return the keys in as many lines as `width` asks for; none parts from its meaning."""
        pen = self.desk.pen
        rows = [Content("")]
        for key, meaning in self.typing if self._types else self.keys:
            item = pen.line((key, "bold"), (f" {meaning}", pen.palette.faint))
            if not rows[-1].plain:
                rows[-1] = item
            elif rows[-1].cell_length + 3 + item.cell_length <= width - 2:
                rows[-1] = rows[-1] + Content("   ") + item
            else:
                rows.append(item)
        return joined(rows)

    def tell(self, text: str, *, warning: bool = False) -> None:
        """Show one message; it stays until the next."""
        pen = self.desk.pen
        style = f"bold {pen.palette.warning}" if warning else ""
        self._message.update(pen.line((f"! {text}" if warning else text, style)))

    def action_units(self) -> None:
        """Change between the two systems of units; seen at the next drawing."""
        si = self.desk.system is UnitSystem.SI
        self.desk.system = UnitSystem.US if si else UnitSystem.SI

    def list_room(self) -> int | None:
        """Return the columns of a line in a list where they are few; else None."""
        width = self.app.size.width
        return width - _LEFT_OF_LIST if width < NARROW else None

    # ---- what goes on behind the step

    def begin(self, work: Coroutine[None, None, None]) -> None:
        """Start what goes on until `halt`; what was refused before is not said any more."""
        if self._refused:
            self._refused = False
            self.tell("")
        self._going_on = asyncio.get_running_loop().create_task(self._work(work))

    async def _work(self, work: Coroutine[None, None, None]) -> None:
        try:
            await work
        except ChargeAssistError as error:
            self._refused = True
            self.tell(str(error), warning=True)

    def look_after(self) -> None:
        """Raise what broke the work: a fault of the program is not hidden."""
        if self._going_on is not None and self._going_on.done() and not self._going_on.cancelled():
            self._going_on.result()

    async def halt(self) -> None:
        """End what goes on, and wait until its port or broker is let go."""
        task, self._going_on = self._going_on, None
        if task is not None:
            task.cancel()
            await asyncio.wait({task})

    async def on_unmount(self) -> None:
        """Let everything go."""
        await self.halt()
