"""Step 4 of the guided probes screen: the section of the job file, tried out before it is kept."""

from collections.abc import Iterator
from pathlib import Path
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input, Static

from chargeassist.model.channels import Quality
from chargeassist.model.errors import ChargeAssistError
from chargeassist.session.clock import steady_s
from chargeassist.session.job.toml_table import file_text
from chargeassist.session.wiring.hearing import Trial
from chargeassist.session.wiring.section import added_to, append, read_section, save, section_of
from chargeassist.tui.screens.wiring_step import PAINT_S, Desk, Step, shown_value

TRIAL_LINES = 8


class Section(Step):
    """The tables as they will be written, and below what their probes deliver."""

    number = 4
    keys = (
        ("a", "append to a job"),
        ("s", "save as new file"),
        ("p", "print, leave"),
        ("u", "units"),
        ("Esc", "back"),
    )
    typing = (("Enter", "goes on with this name"), ("Esc", "writes nothing"))
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("a", "append", "append to a job file"),
        Binding("s", "save", "save as a new file"),
        Binding("p", "print", "leave and print"),
        Binding("y", "yes", "yes"),
        Binding("n", "no", "no"),
        Binding("escape", "back", "back"),
    ]

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._text = section_of(desk.choices, desk.alone)
        self._trial: Trial | None = None
        self._trial_view = Static("", id="trial")
        self._input = Input(id="file", classes="-hidden")
        self._input.cursor_blink = False
        self._purpose = ""
        self._asked: Path | None = None

    def body(self) -> Iterator[Widget]:
        """Yield the section, what it delivers, and the line for a file's name."""
        with VerticalScroll(id="scroll"):
            yield Static(self.desk.pen.line(self._text), id="toml")
        yield self._trial_view
        yield self._input

    def on_mount(self) -> None:
        """Run the sources as a job would."""
        try:
            specs = read_section(self._text, self.desk.base)
            self._trial = Trial(specs, self.desk.base)
        except ChargeAssistError as error:
            self.tell(str(error), warning=True)
            return
        self.begin(self._trial.run())
        self.set_interval(PAINT_S, self.paint)
        self.query_one("#scroll").focus()
        self.paint()

    def paint(self) -> None:
        """Draw what each probe delivers."""
        self.look_after()
        if self._trial is None:
            return
        pen, now = self.desk.pen, steady_s()
        heard = sum(channel.name in self._trial.values for channel in self._trial.channels)
        head = f"as a job reads it: {heard} of {len(self._trial.channels)} probes heard"
        rows: list[Content] = [pen.line((head, pen.palette.faint))]
        if self._trial.trouble:
            text = f"! {self._trial.trouble}"
            rows.append(pen.line((text, f"bold {pen.palette.warning}")))
        # What is silent comes first: there is no room for all of many.
        # Beside each other as closely as a narrow screen asks for: no line ends within a quantity.
        name_width, value_width = (26, 16) if self.list_room() is None else (0, 0)
        order = sorted(self._trial.channels, key=lambda c: c.name in self._trial_values())
        for channel in order:
            last = self._trial.values.get(channel.name)
            if last is None:
                name = f"{channel.role.value:{name_width}} "
                rows.append(pen.line(name, ("nothing yet", "bold")))
                continue
            value = shown_value(
                channel.role, channel.unit, channel.counted_from, last.value_si, self.desk.system
            )
            note = "" if last.quality is Quality.GOOD else f"  ({last.quality.value})"
            age = f"{now - last.at_s:.0f} s"
            name, number = f"{channel.role.value:{name_width}} ", f"{value:>{value_width}}"
            rows.append(pen.line(name, (number, "bold"), f"  {age}"))
            if note:
                rows[-1] = pen.line(rows[-1], note)
        if len(rows) > TRIAL_LINES:
            more = len(rows) - TRIAL_LINES + 1
            rows[TRIAL_LINES - 1 :] = [pen.line((f"and {more} more", pen.palette.faint))]
        self._trial_view.update(Content("\n").join(rows))

    def _trial_values(self) -> dict[str, object]:
        return dict(self._trial.values) if self._trial is not None else {}

    # ---- keys

    def action_append(self) -> None:
        """Ask whether to write behind what stands in the job file."""
        if self.desk.job is not None and self.desk.job.exists():
            self._ask_append(self.desk.job)
        else:
            self._ask_name("append", "job file to append to:")

    def action_save(self) -> None:
        """Ask for the name of a new file."""
        new = self.desk.job is not None and not self.desk.job.exists()
        self._ask_name("save", "name of the new file:", str(self.desk.job) if new else "")

    def _ask_name(self, purpose: str, prompt: str, value: str = "") -> None:
        self._purpose = purpose
        self._asked = None
        self._input.value = value
        self._input.remove_class("-hidden")
        self._input.focus()
        self.tell(prompt)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the name of a file."""
        event.stop()
        if not event.value.strip():
            self.tell(
                "expected the name of a file, such as job.toml; Esc writes nothing", warning=True
            )
            return
        path = Path(event.value.strip()).expanduser()
        if self._purpose == "append":
            self._ask_append(path)
            return
        try:
            save(path, self._text)
        except ChargeAssistError as error:
            self.tell(str(error), warning=True)
            return
        self.app.exit(f"written: {path}")

    def _ask_append(self, path: Path) -> None:
        try:
            text = file_text(path, "a job file")
            added_to(text, self._text, str(path))
        except ChargeAssistError as error:
            self.tell(str(error), warning=True)
            return
        self._asked = path
        self._close_line()
        stand, come = len(text.splitlines()), len(self._text.splitlines())
        self.tell(
            f"{path}: its {stand} lines stay as they are, these {come} come behind them. "
            "y writes, n does not."
        )

    def action_yes(self) -> None:
        """Write behind what stands there."""
        path, self._asked = self._asked, None
        if path is None:
            return
        try:
            append(path, self._text)
        except ChargeAssistError as error:
            self.tell(str(error), warning=True)
            return
        self.app.exit(f"appended to {path}; next: chargeassist job check {path}")

    def action_no(self) -> None:
        """Write nothing."""
        if self._asked is not None:
            self._asked = None
            self.tell("Nothing was written.")

    def action_print(self) -> None:
        """Leave; the section is printed."""
        self.app.exit(self._text)

    def _close_line(self) -> None:
        self._input.add_class("-hidden")
        self.query_one("#scroll").focus()

    async def action_back(self) -> None:
        """Go back; a line for a name is closed first."""
        if not self._input.has_class("-hidden"):
            self._close_line()
            self.tell("Nothing was written.")
            return
        await self.halt()
        self.dismiss()
