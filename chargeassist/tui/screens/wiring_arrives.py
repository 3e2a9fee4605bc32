"""Step 2 of the guided probes screen: what arrives, as it came and taken apart."""

import time
from collections.abc import Iterator
from dataclasses import replace
from typing import ClassVar

from rich.cells import cell_len
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from chargeassist.model.channels import Role
from chargeassist.model.errors import ChargeAssistError
from chargeassist.model.text import plain, without_credentials
from chargeassist.session.wiring.arrived import Arrivals, Place, Row
from chargeassist.session.wiring.hearing import ask, can_listen, check_select, listen
from chargeassist.session.wiring.speed import (
    SpeedSearch,
    at_next_speed,
    names_speed,
    same_port,
    speed_of,
)
from chargeassist.tui.screens.wiring_choose import Choose
from chargeassist.tui.screens.wiring_section import Section
from chargeassist.tui.screens.wiring_step import PAINT_S, Desk, Step, chosen_value
from chargeassist.tui.widgets.marked_list import MarkedList

QUIET_S = 4.0
RAW_LINES = 5
_LEAST_ADDRESS = 16
"""Columns of an address that are worth showing."""

_NAME_WIDTH, _TEXT_WIDTH, _AGE_WIDTH = 21, 13, 6
_BESIDE = 2 + _TEXT_WIDTH + 1 + _AGE_WIDTH
"""Columns of a line that are not its name's."""

_LEAST_NAME = 6


FIRST_SELECT = "1/input:0:int16"
"""What is read first where registers are asked for: the usual one of a probe with one value."""


class Arrives(Step):
    """The last lines of a port or broker, and each field in them."""

    number = 2
    typing = (("Enter", "read it"), ("Tab", "to the list and its keys"), ("Esc", "back"))
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("b", "speed", "next baud rate"),
        Binding("t", "type", "name what to read"),
        Binding("x", "forget", "forget the choice"),
        Binding("w", "section", "job section"),
        Binding("escape", "back", "back"),
    ]

    def __init__(self, desk: Desk, url: str, topics: str = "") -> None:
        super().__init__(desk)
        serial = url.startswith("serial:") and not names_speed(url)
        # Where something was chosen at this port its speed is known.
        known = [c.url for c in desk.choices if serial and same_port(c.url, url)]
        self._url = url = known[0] if known else url
        self._search = SpeedSearch(url) if serial and not known else None
        self._topics = topics
        self._listens = can_listen(url)
        self._selects: list[str] = [
            choice.place.select for choice in desk.choices if choice.url == url
        ]
        self._arrivals = Arrivals(time.monotonic)
        self._since = time.monotonic()
        self._rows: tuple[Row, ...] = ()
        self._state = Static("", id="state")
        self._raw = Static("", id="raw")
        self._list = MarkedList(desk.pen, id="fields")
        # Selected when it has the focus: Enter reads it, a letter replaces it.
        self._input = Input(FIRST_SELECT, id="select", placeholder=FIRST_SELECT)
        self._input.cursor_blink = False
        self._ask_line = Static(
            desk.pen.line("Read (device/table:register:type, registers counted from 0):"),
            classes="one",
            id="ask",
        )
        keys = [("Enter", "choose"), ("x", "forget choice"), ("u", "units"), ("w", "job section")]
        if not self._listens:
            keys.insert(1, ("t", "read another"))
        elif url.startswith("serial:"):
            keys.insert(1, ("b", "next baud rate"))
        self.keys = (*keys, ("Esc", "back"))

    def body(self) -> Iterator[Widget]:
        """Yield the lines as they came, the fields, and where it has to be asked, a line for it."""
        yield self._state
        yield self._raw
        if not self._listens:
            yield self._ask_line
            yield self._input
        yield self._list

    def on_mount(self) -> None:
        """Begin to listen."""
        self._hear()
        self.set_interval(PAINT_S, self.paint)
        (self._list if self._listens else self._input).focus()
        self.paint()

    def _hear(self) -> None:
        self._since = time.monotonic()
        base = self.desk.base
        if self._listens:
            self.begin(listen(self._url, self._topics, base, self._arrivals))
        elif self._selects:
            self.begin(ask(self._url, tuple(self._selects), base, self._arrivals))

    # ---- painting

    def paint(self) -> None:
        """Draw what has arrived; go on to another speed where nothing can be read at this one."""
        self.look_after()
        if self._search is not None and not self._refused:
            self._look_for_speed(self._search)
        pen = self.desk.pen
        rows = self._arrivals.rows()
        places = [row.place for row in rows]
        lines = [self._line(row) for row in rows]
        if places == [row.place for row in self._rows]:
            for index, line in enumerate(lines):
                self._list.replace_option_prompt_at_index(index, line)
        else:
            at = self._highlighted()
            self._list.clear_options()
            self._list.add_options([Option(line) for line in lines])
            if places:
                known = at is not None and at.place in places
                self._list.highlighted = places.index(at.place) if known and at else 0
        self._rows = rows
        here = self._highlighted()
        topic = here.place.topic if here is not None else None
        raw = self._arrivals.lines(topic, RAW_LINES)
        width = max(10, self.size.width - 2)
        heading = "as it came" + (f", topic {plain(topic, 40)}" if topic else "") + ":"
        body = [
            pen.line((heading, pen.palette.faint)),
            *(pen.cut(pen.line(line), width) for line in raw),
        ]
        self._raw.update(Content("\n").join(body))
        self._state.update(self._state_line())

    def _state_line(self) -> Content:
        pen, arrivals = self.desk.pen, self._arrivals
        if self._refused:
            return self._at("not listened to: see below")
        if arrivals.silent_why:
            return pen.line((f"! {arrivals.silent_why}", f"bold {pen.palette.warning}"))
        if not self._listens and not self._selects:
            return self._at("Nothing comes unasked: name what to read.")
        if self._search is not None:
            words = f"looking for the speed: {speed_of(self._url)} baud ({self._search.place})"
            came = arrivals.troubles + arrivals.count
            return self._at(f"{words}, {arrivals.readable} of {came} lines can be read")
        if not arrivals.count:
            if arrivals.troubles:
                hint = "; b: next baud rate" if self._url.startswith("serial:") else ""
                words = f"! {arrivals.last_trouble}{hint}"
                return pen.line((words, f"bold {pen.palette.warning}"))
            quiet_s = time.monotonic() - self._since
            more = ": is the probe on and sending? Is the speed right?" if quiet_s > QUIET_S else ""
            return self._at(f"nothing yet, {quiet_s:.0f} s{more}")
        text = f"{arrivals.count} heard"
        forms = sorted({row.form.format for row in self._rows})
        if forms:
            text += f", as {', '.join(forms)}"
        if self._url.startswith("serial:"):
            text += f", {speed_of(self._url)} baud"
        if arrivals.troubles:
            text += f", {arrivals.troubles} not readable"
        unread = arrivals.unread()
        if unread and self._listens:
            text += f", {len(unread)} without a number" if unread != ("",) else ", without a number"
        if arrivals.passed_over:
            text += f", {arrivals.passed_over} passed over: name a filter behind the address"
        return self._at(text)

    def _at(self, text: str) -> Content:
        """Return the state with the address behind it, as far as the line has room for it."""
        pen, url = self.desk.pen, without_credentials(self._url, 60)
        line = pen.line(text)
        room = self.size.width - 2 - line.cell_length - 3
        if room < min(len(url), _LEAST_ADDRESS):
            return line
        return line + Content("   ") + pen.cut(pen.line((url, pen.palette.faint)), room).rstrip()

    def _line(self, row: Row) -> Content:
        pen = self.desk.pen
        choice = self.desk.choice_at(self._url, row.place)
        parts = (row.place.topic, row.place.select)
        name = plain(" ".join(filter(None, parts)) or "the number", 400)
        room = self.list_room()
        width = _NAME_WIDTH if room is None else max(_LEAST_NAME, min(_NAME_WIDTH, room - _BESIDE))
        if cell_len(name) > width:  # fields of one topic differ at the end
            mark = pen.text("…")
            while cell_len(name) > width - len(mark):
                name = name[1:]
            name = mark + name
        chosen = pen.pick("●", "*") if choice else " "
        age = "kept" if row.retained else f"{row.age_s:.0f} s"
        if choice is None:
            end = "" if row.field.number is not None else "no number"
        else:
            value = chosen_value(choice, row.field.number, self.desk.system)
            end = f"{choice.role.value} {value}"
        gap = "  " if room is None else "\n  "  # never a line's end within a quantity
        return pen.line(
            f"{chosen} ",
            pen.cut(pen.line(name), width),
            pen.right(pen.cut(pen.line(row.field.text.strip()), _TEXT_WIDTH), _TEXT_WIDTH + 1),
            f"{age:>{_AGE_WIDTH}}",
            (f"{gap}{end}" if end else "", "bold"),
        )

    def _highlighted(self) -> Row | None:
        index = self._list.highlighted
        return self._rows[index] if index is not None and index < len(self._rows) else None

    # ---- keys

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Choose role and unit of a field."""
        row = self._rows[event.option_index]
        self._search = None
        if row.field.number is None:
            self.tell(f"No number there now ({row.field.text}): choose a field that has one.")
            return
        taken = self._taken(row.place)
        self.tell("")
        self.app.push_screen(Choose(self.desk, self._url, row, self._arrivals, taken))

    def _taken(self, place: Place) -> frozenset[Role]:
        return frozenset(choice.role for choice in self.desk.others(self._url, place))

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Read what was named, too."""
        event.stop()
        self.run_worker(self._read_too(event.value.strip()), exclusive=True)

    async def _read_too(self, select: str) -> None:
        if not select and not self._selects:
            self.tell(f"Name what to read, such as {FIRST_SELECT}.", warning=True)
            return
        if not select or select in self._selects:
            self._list.focus()
            return
        try:
            check_select(self._url, select, self.desk.base)
        except ChargeAssistError as error:
            self.tell(str(error), warning=True)
            return
        self.tell("Enter on its line chooses role and unit; t reads another register too.")
        self._selects.append(select)
        self._input.clear()
        self._list.focus()
        await self.halt()
        self._hear()

    def action_type(self) -> None:
        """Name what to read."""
        if not self._listens:
            self._input.focus()

    def action_forget(self) -> None:
        """Forget what the field was chosen to be."""
        row = self._highlighted()
        if row is not None:
            self.desk.choices = self.desk.others(self._url, row.place)
            self.paint()

    def action_speed(self) -> None:
        """Listen at the next baud rate, and look for it no more."""
        if self._url.startswith("serial:"):
            self._search = None
            self.run_worker(self._listen_at(at_next_speed(self._url)), exclusive=True)

    def _look_for_speed(self, search: SpeedSearch) -> None:
        if self._arrivals.silent_why:
            self._since = time.monotonic()  # a port that is not there says nothing of its speed
        elif search.look(self._arrivals, time.monotonic() - self._since):
            # Not judged again before it is listened to.
            self._arrivals, self._since = Arrivals(time.monotonic), time.monotonic()
            self.run_worker(self._listen_at(search.url), exclusive=True)
        elif search.found:
            self._search = None

    async def _listen_at(self, url: str) -> None:
        await self.halt()
        before, self._url = self._url, url
        self.desk.choices = [
            replace(c, url=self._url) if c.url == before else c for c in self.desk.choices
        ]
        self._arrivals = Arrivals(time.monotonic)
        self._hear()
        self.paint()

    async def action_section(self) -> None:
        """Show the section of the job; a port has room for one reader, so this one lets go."""
        if self.desk.empty:
            self.tell("Nothing is chosen yet: Enter on a field chooses its role and unit.")
            return
        self.workers.cancel_node(self)
        await self.halt()
        self.app.push_screen(Section(self.desk), self._again)

    def _again(self, _answer: None) -> None:
        self._hear()

    async def action_back(self) -> None:
        """Go back to the list of places."""
        self.workers.cancel_node(self)
        await self.halt()
        self.dismiss()
