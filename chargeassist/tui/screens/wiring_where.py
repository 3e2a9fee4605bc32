"""Step 1 of the guided probes screen: which port, broker or line."""

from collections.abc import Iterator
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.widget import Widget
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from chargeassist.model.errors import ChargeAssistError
from chargeassist.session.wiring.hearing import (
    NAMES_ITS_PROBES,
    FoundPlace,
    can_listen,
    places,
    split_address,
)
from chargeassist.session.wiring.section import read_section, section_of
from chargeassist.tui.screens.wiring_arrives import Arrives
from chargeassist.tui.screens.wiring_section import Section
from chargeassist.tui.screens.wiring_step import Desk, Step
from chargeassist.tui.widgets.marked_list import MarkedList

_FORMS = (
    ("serial:/dev/ttyUSB0?baud=115200", "lines of a serial port"),
    ("mqtt://localhost:1883", "all topics; with a filter: mqtt://… job/#"),
    ("modbus:/dev/ttyUSB0?baud=9600", "registers, asked for one by one"),
)


class Where(Step):
    """The ports that were found, and a line for any other address."""

    number = 1
    keys = (
        ("Enter", "listen there"),
        ("a", "type an address"),
        ("r", "look again"),
        ("w", "job section"),
        ("q", "leave"),
    )
    typing = (("Enter", "listen there"), ("Esc", "back to the list and the keys"))
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("a", "to_address", "type an address"),
        Binding("r", "look", "look again"),
        Binding("w", "section", "job section"),
        Binding("q", "leave", "leave"),
        Binding("ctrl+q,ctrl+c", "leave", "leave", priority=True),
        Binding("escape", "to_list", "to the list"),
    ]

    def __init__(self, desk: Desk, start: str = "") -> None:
        super().__init__(desk)
        self._places: tuple[FoundPlace, ...] = ()
        self._list = MarkedList(desk.pen, id="places")
        self._heading = Static("", classes="one")
        self._address = Input(value=start, id="address", select_on_focus=False)
        self._address.cursor_blink = False
        self._start = start

    def body(self) -> Iterator[Widget]:
        """Yield the list and the line to type in."""
        pen = self.desk.pen
        yield self._heading
        yield self._list
        yield Static(pen.line("Or an address:"), classes="one")
        yield self._address
        width = max(len(form) for form, _ in _FORMS) + 2
        for form, about in _FORMS:
            line = pen.line((f"{form:{width}}{about}", pen.palette.faint))
            yield Static(line, classes="form")

    def on_mount(self) -> None:
        """Look what is there; begin at an address given on the command line."""
        self.action_look()
        if self._start:
            self.open(self._start)

    def action_look(self) -> None:
        """Look for ports again."""
        pen = self.desk.pen
        self._places, troubles = places()
        self._list.clear_options()
        for place in self._places:
            self._list.add_option(Option(pen.line((place.address, "bold"), f"  {place.about}")))
        many = len(self._places)
        found = {0: "No serial port found on this machine.", 1: "One port found:"}.get(
            many, f"{many} ports found:"
        )
        self._heading.update(pen.line(found))
        if many:
            self._list.highlighted = 0
            self._list.focus()
        else:
            self._address.focus()
        if troubles:
            self.tell("; ".join(troubles), warning=True)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Listen at a port of the list."""
        self.open(self._places[event.option_index].address)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Listen at the address typed."""
        if event.value.strip():
            self.open(event.value)

    def open(self, text: str) -> None:
        """Go on to what arrives at an address."""
        url, topics = split_address(text)
        self.tell("")
        try:
            if url.partition(":")[0] in NAMES_ITS_PROBES:
                read_section(section_of((), [url]), self.desk.base)
                if url not in self.desk.alone:
                    self.desk.alone.append(url)
                self.action_section()
                return
            can_listen(url)
        except ChargeAssistError as error:
            self.tell(str(error), warning=True)
            return
        self.app.push_screen(Arrives(self.desk, url, topics))

    def action_to_address(self) -> None:
        """Type an address."""
        self._address.focus()

    def action_to_list(self) -> None:
        """Leave the line to type in."""
        self._list.focus()

    def action_section(self) -> None:
        """Show what has been put together."""
        if self.desk.empty:
            self.tell("Nothing is chosen yet: listen somewhere and choose a field.")
        else:
            self.app.push_screen(Section(self.desk))

    def action_leave(self) -> None:
        """Leave; where something was chosen, only when asked twice."""
        if not self.desk.empty and not self.desk.warned:
            self.desk.warned = True
            self.tell(
                "What was chosen is not written: w shows it. q once more leaves.", warning=True
            )
            return
        self.app.exit("")
