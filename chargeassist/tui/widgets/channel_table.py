"""The channels: value, change per minute against what is allowed, state in a shape and a word."""

from collections.abc import Sequence

from rich.cells import cell_len
from textual.content import Content
from textual.geometry import Size
from textual.widget import Widget

from chargeassist.model import display
from chargeassist.model.channels import Role
from chargeassist.model.display import NO_NUMBER
from chargeassist.model.events import Stage
from chargeassist.model.text import plain
from chargeassist.stream.facts import ChannelFacts, ChannelState
from chargeassist.tui import words
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import Panel, joined

_MAIN = (
    Role.LIQUID_PRESSURE,
    Role.LIQUID_TEMPERATURE,
    Role.SUCTION_PRESSURE,
    Role.SUCTION_TEMPERATURE,
)
_FIRST = {Stage.DRYNESS: (Role.VACUUM,), Stage.WEIGH_IN: (Role.CYLINDER_MASS,)}
"""What a stage goes by stands before the four."""
_ROLES = tuple(Role)
_LEDGER_ROWS = 2
_BY_RATE = {ChannelState.SETTLED, ChannelState.MOVING}
_LABEL, _VALUE, _CHANGE, _LIMIT, _STATE = 25, 15, 8, 16, 13
_NARROW = _LABEL + _VALUE + _CHANGE + _STATE
_SLIM = _NARROW - 5
"""Fewer cells have no room for the change."""
_SLIM_STATE, _SLIM_LABEL = 12, 8
_BRIEF = ((" line", ""), (" temperature", " temp"), (" pressure", " press"))


class ChannelTable(Panel):
    """One row per channel, the four that make subcooling and superheat first."""

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the lines needed; not those that the charge steps below have."""
        needed = super().get_content_height(container, viewport, width)
        around = self.parent.styles.height if isinstance(self.parent, Widget) else None
        if around is None or around.is_auto:
            return needed  # what is around it grows with it
        return min(needed, max(len(_MAIN), container.height - _LEDGER_ROWS))

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the rows that fit; the last one says how many do not."""
        if scene.snapshot is None:
            return Content("")
        pen = scene.pen
        stage = scene.snapshot.stage
        channels = in_order(scene.snapshot.facts.channels, _FIRST.get(stage, ()))
        if stage is not Stage.DRYNESS:
            channels = without_vacuum_gauge(channels)
        room = len(channels) + 1 if height is None else height
        rows = []
        # A silent channel that would be counted only is worth more than the line of headings.
        missed = len(channels) > room and any(
            each.state is ChannelState.NO_SIGNAL for each in channels[room - 2 :]
        )
        if room > len(_MAIN) and not missed:
            rows.append(_header(scene, width))
            room -= 1
        # Where little fits, the channels that matter go before a count of the others.
        counted = len(channels) > room > len(_MAIN)
        shown = channels[: room - 1 if counted else room]
        rows += [_row(each, scene, width) for each in shown]
        hidden = channels[len(shown) :]
        if hidden and len(shown) < room:
            silent = sum(each.state is ChannelState.NO_SIGNAL for each in hidden)
            text = f"{len(hidden)} more" + (f", {silent} without signal" if silent else "")
            rows.append(pen.line((text, pen.palette.faint)))
        return joined(rows)


def in_order(channels: Sequence[ChannelFacts], first: tuple[Role, ...] = ()) -> list[ChannelFacts]:
    """Return the four main channels, then the others: those without signal before those with.

    Parameters
    ----------
    channels : sequence of ChannelFacts
    first : tuple of Role
        What stands before the four.
    """
    main = (*first, *_MAIN)

    def rank(each: ChannelFacts) -> tuple[int, int]:
        role = each.channel.role
        if role in main:
            return 0, main.index(role)
        return (1 if each.state is ChannelState.NO_SIGNAL else 2), _ROLES.index(role)

    return sorted(channels, key=rank)


def without_vacuum_gauge(channels: Sequence[ChannelFacts]) -> list[ChannelFacts]:
    """Return the channels without a vacuum gauge that is silent: where there is none, it is off."""
    return [
        each
        for each in channels
        if each.channel.role is not Role.VACUUM or each.state is not ChannelState.NO_SIGNAL
    ]


def _header(scene: Scene, width: int) -> Content:
    pen, faint = scene.pen, scene.pen.palette.faint
    if width < _SLIM:
        row = pen.cut(pen.line(("channel", faint)), _slim_label(width))
        row += pen.right(pen.line(("value", faint)), _VALUE)
        return row if scene.veiled else pen.cut(row + pen.line((" state", faint)), width)
    label = _LABEL if width >= _NARROW else _LABEL - 5
    row = pen.cut(pen.line(("channel", faint)), label)
    row += pen.right(pen.line(("value", faint)), _VALUE)
    if width >= label + _VALUE + _CHANGE + _LIMIT + _STATE:
        change = "   change" if scene.veiled else "   change, allowed"
        row += pen.cut(pen.line((change, faint)), _CHANGE + _LIMIT)
    else:
        row += pen.right(pen.line(("per min", faint)), _CHANGE)
    return row if scene.veiled else row + pen.line(("  state", faint))


def _row(each: ChannelFacts, scene: Scene, width: int) -> Content:
    pen, faint, system = scene.pen, scene.pen.palette.faint, scene.system
    channel = each.channel
    if width < _SLIM:
        return _slim_row(each, scene, width)
    label = _LABEL if width >= _NARROW else _LABEL - 5
    wide = width >= label + _VALUE + _CHANGE + _LIMIT + _STATE
    value = _value(each, scene)
    change, limit = words.change(each.slope_si_per_s, each.allowed_si_per_s, channel, system)
    text = channel.role.label
    # A number too wide for its column takes its room from the name, not from what follows.
    changes = len(change) if each.state in _BY_RATE else 0
    label -= max(0, len(value) - _VALUE) + max(0, changes + 1 - _CHANGE)
    row = pen.cut(pen.line(text if len(text) < label else text.replace(" line", "")), label)
    if each.value_si is None:
        style = pen.palette.states[ChannelState.NO_SIGNAL.value]
        why = pen.line("  ", (plain(each.why), style))
        between = _VALUE + _CHANGE + (_LIMIT if wide else 0)
        return row + pen.cut(why, between) + Content("  ") + pen.state(each.state)
    value_style = "bold" if each.state is not ChannelState.NO_SIGNAL else faint
    row += pen.right(pen.line((value, value_style)), max(_VALUE, len(value)))
    if each.state is ChannelState.NO_SIGNAL:
        why = pen.line("  ", (plain(each.why), pen.palette.states[ChannelState.NO_SIGNAL.value]))
        row += pen.cut(why, _CHANGE + (_LIMIT if wide else 0))
        return row + Content("  ") + pen.state(each.state)
    if each.state is ChannelState.BY_HAND:
        ago = f"  {display.duration(each.age_s or 0.0)} ago"
        between = _CHANGE + (_LIMIT if wide else 0)
        return (
            row + pen.cut(pen.line((ago, faint)), between) + Content("  ") + pen.state(each.state)
        )
    row += pen.right(pen.line(change), max(_CHANGE, len(change) + 1))
    if wide:
        row += pen.cut(pen.line(" ", (limit, faint)), _LIMIT)
    if scene.veiled:
        return row
    return row + (
        Content("") if is_judged_elsewhere(each) else Content("  ") + pen.state(each.state)
    )


def _value(each: ChannelFacts, scene: Scene) -> str:
    """Return the reading with its unit; empty where there is none."""
    if each.value_si is None:
        return ""
    channel = each.channel
    return display.reading(each.value_si, channel.quantity, channel.reference, scene.system)


def is_judged_elsewhere(each: ChannelFacts) -> bool:
    """Return whether nothing is judged by how fast this channel changes: a vacuum, by its curve."""
    return each.channel.role is Role.VACUUM and each.state in _BY_RATE


def brief_label(label: str) -> str:
    """Return the name of a channel for a narrow screen: "liquid temp"."""
    for long, short in _BRIEF:
        label = label.replace(long, short)
    return label


def _slim_label(width: int) -> int:
    room = width - _VALUE - _SLIM_STATE
    return room if room >= _SLIM_LABEL else max(1, width - _VALUE - 2)


def _slim_row(each: ChannelFacts, scene: Scene, width: int) -> Content:
    """Return name, value and state; the state's word only where the name has room beside it."""
    pen, channel = scene.pen, each.channel
    value = _value(each, scene)
    if each.value_si is None:
        why = plain(each.why)
        value = why if cell_len(why) < _VALUE else NO_NUMBER
    label = _slim_label(width) - max(0, cell_len(value) + 1 - _VALUE)
    row = pen.cut(pen.line(brief_label(channel.role.label)), max(1, label))
    lost = each.state is ChannelState.NO_SIGNAL
    value_cells = max(_VALUE, cell_len(value) + 1)
    row += pen.right(pen.line((value, pen.palette.faint if lost else "bold")), value_cells)
    if (scene.veiled and each.state in _BY_RATE) or is_judged_elsewhere(each):
        return row
    state = pen.state(each.state)
    return row + Content(" ") + (state if width - row.cell_length >= _SLIM_STATE else state[:1])
