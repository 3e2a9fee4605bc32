"""The judged value in letters to be read from across the yard; the large print of the board."""

from textual.content import Content

from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.big_text import big
from chargeassist.tui.widgets.panel import Panel, joined
from chargeassist.tui.widgets.values import value_rows


class LargeValue(Panel):
    """Name and uncertainty, the digits as large as there is room for, state and time to go."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the block."""
        pen = scene.pen
        kind = scene.job.target.judged.name
        digits, (name, uncertainty, target) = value_rows(scene, kind)
        gap = pen.line("   ")
        rows = [name + gap + uncertainty + gap + target]
        rows += [pen.line((line, "bold")) for line in self._digits(scene, digits, width, height)]
        to_go, (state, label, between) = value_rows(scene, "to-go")
        number = pen.line((f"{to_go} ", "bold")) if to_go else Content("")
        rows.append(state + gap + number + label + Content(" ") + between)
        return joined(rows)

    def _digits(self, scene: Scene, digits: str, width: int, height: int | None) -> list[str]:
        room = 8 if height is None else height - 2
        if scene.pen.unicode and digits:
            for double, times in ((True, 3), (True, 2), (True, 1), (False, 1)):
                shown = _enlarged(big(digits, double=double) or [], times)
                if shown and len(shown) <= room and len(shown[0]) <= width:
                    return shown
        return [digits]


def _enlarged(rows: list[str], times: int) -> list[str]:
    return ["".join(cell * times for cell in row) for row in rows for _ in range(times)]
