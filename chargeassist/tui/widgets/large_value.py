"""The judged value in letters to be read from across the yard; the large print of the board."""

from collections.abc import Sequence
from typing import Final

from textual.content import Content

from chargeassist.model.display import NO_NUMBER
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import SettleState
from chargeassist.tui import words
from chargeassist.tui.pen import Pen
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.big_text import big
from chargeassist.tui.widgets.panel import Panel, joined
from chargeassist.tui.widgets.values import value_rows

Block = list[Content]
"""Lines of equal width."""

_GAP = 3
_PLAIN: Final = -1
_FORMS: Final = (
    (3, 1, True), (2, 1, True), (2, 0, True), (1, 1, True), (1, 0, True),
    (1, 0, False), (1, _PLAIN, False), (0, 0, True), (0, 0, False), (0, _PLAIN, False),
)  # fmt: skip
"""Size of the digits, size of the rest, and whether the target is large too; the best first.

A size is how many times two columns and a line make a pixel; 0 is one column and half a line, and
`_PLAIN` a line of bold text. The digits are the last to grow smaller.
"""

_SHORT: Final = {SettleState.NEARLY.value: "nearly"}


class LargeValue(Panel):
    """Digits with their uncertainty, the state with the time to go, the target: all of it large."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the block at the largest size that fits."""
        room = 11 if height is None else height
        if scene.pen.unicode and scene.snapshot is not None:
            for digits_scale, scale, large_target in _FORMS:
                rows = _rows(scene, width, digits_scale, scale, large_target=large_target)
                if _lines(rows) <= room and all(_width(row) <= width for row in rows):
                    return joined(_spread(rows, room))
        return joined(_spread(_plain_rows(scene), room))


def _rows(
    scene: Scene, width: int, digits_scale: int, scale: int, *, large_target: bool
) -> list[Block]:
    """Return the rows of the block; none is broken inside a number."""
    pen = scene.pen
    kind = scene.job.target.judged.name
    digits, (name, uncertainty, _) = value_rows(scene, kind)
    goal = _target(scene)
    value = _letters(pen, digits, digits_scale)
    head = name if large_target else name + pen.line("   ", (f"target {goal}", "bold"))
    # The uncertainty may be smaller than the rest where it then stands beside the digits.
    beside = width - _width(value) - _GAP
    sizes = [_letters(pen, uncertainty.plain, each) for each in (scale, min(scale, 0))]
    side = next((each for each in sizes if _width(each) <= beside), sizes[-1])
    room = len(value) - len(side)
    side = [head, *[Content("")] * max(0, room - 1), *side]
    rows = _flow([value, side], width)
    rows += _flow(_state(scene, scale, width), width)
    if large_target:
        rows += _flow(_best_target(pen, goal, scale, width), width)
    return rows


def _state(scene: Scene, scale: int, width: int) -> list[Block]:
    """Return the state in large letters, the seconds to go likewise, and what is said beside."""
    pen = scene.pen
    to_go, (state, label, between) = value_rows(scene, "to-go")
    shape, _, word = state.plain.partition(" ")
    style = f"bold {pen.palette.states[word]}"
    said = _SHORT.get(word, word).upper()
    plain = [pen.line((f"{shape} {said}", style))]
    seconds = _letters(pen, f"{to_go} s", scale) if to_go.isdecimal() else []
    together = width - (_GAP + _width(seconds) if seconds else 0)
    # A word too long for the size is written smaller before it becomes plain text.
    drawn = (
        _letters(pen, said, size, style, icon=icon)
        for size in dict.fromkeys((scale, min(scale, 0)))
        for room in (together, width)
        for icon in (word, "")
        if size != _PLAIN and _width(_letters(pen, said, size, style, icon=icon)) <= room
    )
    block = next(drawn, plain)
    if seconds:
        return [block, seconds, [pen.line(("to go,", "bold")), pen.line("about"), between]]
    return [block, [label, between]]


def _best_target(pen: Pen, goal: str, scale: int, width: int) -> list[Block]:
    """Return the target with its word large, or only its numbers where there is no more room."""
    if goal == NO_NUMBER:
        return [[pen.line((f"target {goal}", "bold"))]]
    short = goal.replace(" to ", "–")
    bare = short.partition(" ")[0]  # the unit stands beside the uncertainty
    small = [pen.line(("target", "bold"))]
    forms: list[list[Block]] = [[_letters(pen, f"TARGET {each}", scale)] for each in (goal, short)]
    for word, texts in (
        (_letters(pen, "TARGET", 0), (goal, short, bare)),
        (small, (goal, short)),
    ):
        forms += [[word, _letters(pen, each, scale)] for each in texts]
    for form in forms:
        if sum(_width(block) + _GAP for block in form) - _GAP <= width:
            return form
    return [small, _letters(pen, bare, scale)]


def _target(scene: Scene) -> str:
    snapshot = scene.snapshot
    if snapshot is None or isinstance(snapshot.facts.goal(snapshot.job.target), NoValue):
        return NO_NUMBER
    return words.target(snapshot, scene.system)


def _letters(pen: Pen, text: str, scale: int, style: str = "bold", *, icon: str = "") -> Block:
    """Return `text` as large letters, or as a bold line where a letter is missing."""
    drawn = big(text.replace("−", "-"), icon, double=scale > 0, bare=True)
    if drawn is None or scale == _PLAIN:
        return [pen.line((text, style))]
    times = max(1, scale)
    return [
        pen.line(("".join(cell * times for cell in row), style))
        for row in drawn
        for _ in range(times)
    ]


def _flow(blocks: Sequence[Block], width: int) -> list[Block]:
    """Return rows of blocks side by side, standing on one line; a new row where one is full."""
    rows: list[Block] = []
    for block in blocks:
        if rows and _width(rows[-1]) + _GAP + _width(block) <= width:
            rows[-1] = _beside(rows[-1], block)
        else:
            rows.append([line for line in block if line.plain] or block[:1])
    return rows


def _beside(left: Block, right: Block) -> Block:
    height = max(len(left), len(right))
    wide = _width(left) + _GAP
    left = [Content("")] * (height - len(left)) + left
    right = [Content("")] * (height - len(right)) + right
    return [
        one.pad_right(wide - one.cell_length) + other
        for one, other in zip(left, right, strict=True)
    ]


def _width(block: Block) -> int:
    return max(line.cell_length for line in block)


def _lines(rows: list[Block]) -> int:
    return sum(len(row) for row in rows)


def _spread(rows: list[Block], room: int) -> Block:
    """Return the rows one below the other, a line between them where there are lines to spare."""
    spare = room - _lines(rows)
    between = 1 if spare >= len(rows) - 1 else 0
    found: Block = []
    for row in rows:
        found += [Content("")] * (between if found else 0) + row
    return found


def _plain_rows(scene: Scene) -> list[Block]:
    """Return bold lines, for a terminal without blocks and for no room."""
    pen = scene.pen
    kind = scene.job.target.judged.name
    digits, (name, uncertainty, _) = value_rows(scene, kind)
    to_go, (state, label, between) = value_rows(scene, "to-go")
    number = f"{to_go} " if to_go else ""
    gap = pen.line("   ")
    return [
        [name + gap + pen.line((f"{digits} ", "bold")) + uncertainty],
        [state + gap + pen.line((f"{number}{label.plain}", "bold"), " ") + between],
        [pen.line((f"target {_target(scene)}", "bold"))],
    ]
