"""Step 3 of the guided probes screen: what a field is, in which unit, how exact."""

import re
from collections.abc import Iterator
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.content import Content
from textual.events import DescendantFocus
from textual.widget import Widget
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from chargeassist.guide.stages.caution_words import TEXTS
from chargeassist.model.channels import Role
from chargeassist.model.errors import ChargeAssistError
from chargeassist.model.hazards import Hazard
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity
from chargeassist.session.wiring.arrived import Arrivals, Choice, Row
from chargeassist.session.wiring.fit import Fit, UnitFit, roles_for, units_for
from chargeassist.session.wiring.section import check_choice
from chargeassist.tui.screens.wiring_step import PAINT_S, Desk, Step, shown_value
from chargeassist.tui.widgets.marked_list import MarkedList

_LIVE_PARTS = (Quantity.CURRENT, Quantity.VOLTAGE)


class Choose(Step):
    """One field: roles at the left, units with the live value at the right, accuracy below."""

    number = 3
    keys = (
        ("Enter", "take this role"),
        ("Tab", "next part"),
        ("u", "°F or °C"),
        ("Esc", "back, nothing kept"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "back", "back")]

    def __init__(
        self, desk: Desk, url: str, row: Row, arrivals: Arrivals, taken: frozenset[Role]
    ) -> None:
        super().__init__(desk)
        self._url = url
        self._row = row
        self._arrivals = arrivals
        place, found = row.place, row.field
        self._roles = roles_for(f"{place.topic} {place.select}", found.number, found.unit, taken)
        self._fits: tuple[UnitFit, ...] = ()
        self._live = Static("", classes="one", id="live")
        self._role_list = MarkedList(
            desk.pen, *(Option(desk.pen.line(role.label)) for role in self._roles), id="roles"
        )
        self._unit_list = MarkedList(desk.pen, id="units")
        before = desk.choice_at(url, place)
        self._before = before
        self._taken_unit = before.unit if before else ""
        self._scale = Input(value=f"{before.scale:g}" if before else "1", id="scale")
        self._accuracy = Input(
            value=before.accuracy if before else "",
            placeholder="1 psi, 0.3 K, 0.5 % of reading; may be left out",
            id="accuracy",
        )
        for line in (self._scale, self._accuracy):
            line.cursor_blink = False

    def body(self) -> Iterator[Widget]:
        """Yield the number, the two lists and the two lines."""
        pen = self.desk.pen
        yield self._live
        with Horizontal(id="lists"):
            yield self._role_list
            yield self._unit_list
        with Horizontal(classes="ask"):
            yield Static(pen.line("times, before its unit"))
            yield self._scale
        with Horizontal(classes="ask"):
            yield Static(pen.line("accuracy, by its sheet"))
            yield self._accuracy

    def on_mount(self) -> None:
        """Begin at the role."""
        self.set_interval(PAINT_S, self.paint)
        if not self._roles:
            sent = plain(self._row.field.unit, 20)
            self.tell(f"No role is open for a number in {sent or 'this unit'}.", warning=True)
            return
        chosen = self._before.role if self._before else None
        self._role_list.highlighted = self._roles.index(chosen) if chosen in self._roles else 0
        self._role_list.focus()
        self._new_units()

    @property
    def _role(self) -> Role | None:
        index = self._role_list.highlighted
        return self._roles[index] if index is not None and self._roles else None

    @property
    def _factor(self) -> float | None:
        """What the number is multiplied by, or None where the line says no number."""
        text = self._scale.value.strip() or "1"
        if not re.fullmatch(r"-?\d{1,9}(\.\d{1,9})?", text, re.ASCII) or float(text) == 0.0:
            return None
        return float(text)

    def _fits_now(self) -> tuple[UnitFit, ...]:
        role, found = self._role, self._row.field
        if role is None:
            return ()
        factor = self._factor
        number = None if found.number is None or factor is None else found.number * factor
        return units_for(role, number, found.unit)

    # ---- painting

    def _new_units(self) -> None:
        """List the units of the role anew, the likeliest first."""
        self._fits = self._fits_now()
        self._unit_list.clear_options()
        self._unit_list.add_options([Option(self._unit_line(fit)) for fit in self._fits])
        if self._fits:
            symbols = [fit.unit.symbol for fit in self._fits]
            if self._taken_unit not in symbols:
                self._taken_unit = ""  # of another role
            at = symbols.index(self._taken_unit) if self._taken_unit else 0
            self._unit_list.highlighted = at
        role = self._role
        if role is not None and role.quantity in _LIVE_PARTS:
            self.tell(f"Electricity: {TEXTS[Hazard.ELECTRICITY].text}.", warning=True)
        else:
            self.tell("")

    def paint(self) -> None:
        """Draw the number and what it is in each unit; the order of the units stays."""
        row = self._arrivals.row(self._row.place)
        if row is not None:
            self._row = row
        pen, place = self.desk.pen, self._row.place
        name = " ".join(part for part in (place.topic, place.select) if part) or "the number"
        age = f"{self._row.age_s:.0f} s ago"
        self._live.update(
            pen.line(f"{plain(name, 40)}: ", (self._row.field.text, "bold"), f"  as sent, {age}")
        )
        now = {fit.unit.symbol: fit for fit in self._fits_now()}
        fits = [now.get(fit.unit.symbol, fit) for fit in self._fits]
        for index, fit in enumerate(fits):
            self._unit_list.replace_option_prompt_at_index(index, self._unit_line(fit))

    def _unit_line(self, fit: UnitFit) -> Content:
        pen, role = self.desk.pen, self._role
        if role is None or fit.value_si is None or fit.fit is None:
            return pen.line(fit.unit.symbol)
        symbol = fit.unit.symbol
        value = shown_value(role, symbol, fit.reference, fit.value_si, self.desk.system)
        ink = "bold" if fit.fit is Fit.USUAL else pen.palette.faint
        start, room = f"{symbol:9}{value:>16}", self.list_room()
        fits = room is None or len(start) + 2 + len(fit.fit.value) <= room
        return pen.line((start, ink), ("  " if fits else f"\n{'':9}", ink), (fit.fit.value, ink))

    # ---- keys

    def on_descendant_focus(self, event: DescendantFocus) -> None:
        """Say below what Enter does where the cursor is."""
        does = {
            "roles": "take this role",
            "units": "take this unit",
            "scale": "next",
            "accuracy": "done: keep this probe",
        }
        self.keys = (("Enter", does[event.widget.id or "scale"]), *Choose.keys[1:])
        self.query_one("#keys", Static).update(self._keys(self.app.size.width))

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        """Show the units of the role that is pointed at."""
        if event.option_list is self._role_list:
            self._new_units()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Go on: role, unit, and the lines."""
        if event.option_list is self._unit_list:
            self._taken_unit = self._fits[event.option_index].unit.symbol
            self._accuracy.focus()
        elif self._row.form.format == "number" and self._row.place.select:
            self._scale.focus()  # a register: as a rule in tenths or hundredths
        else:
            self._unit_list.focus()

    def on_input_changed(self, event: Input.Changed) -> None:
        """List the units anew: what is likely depends on the factor."""
        if event.input is self._scale and self._fits:
            self._new_units()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Go on, or keep the probe."""
        event.stop()
        if event.input is self._scale:
            (self._accuracy if self._taken_unit else self._unit_list).focus()
        else:
            self._keep()

    def _keep(self) -> None:
        role, index, factor = self._role, self._unit_list.highlighted, self._factor
        if role is None or index is None:
            self.tell("Choose a role and a unit first.", warning=True)
            return
        if factor is None:
            self.tell("times: expected a number other than 0 such as 0.1", warning=True)
            self._scale.focus()
            return
        choice = Choice(
            url=self._url,
            place=self._row.place,
            form=self._row.form,
            role=role,
            unit=self._fits[index].unit.symbol,
            accuracy=self._accuracy.value.strip(),
            scale=factor,
        )
        others = self.desk.others(self._url, self._row.place)
        try:
            check_choice(choice, others, self.desk.base)
        except ChargeAssistError as error:
            self.tell(str(error), warning=True)
            return
        self.desk.choices = [*others, choice]
        self.desk.warned = False
        self.dismiss()

    def action_back(self) -> None:
        """Go back without a choice."""
        self.dismiss()
