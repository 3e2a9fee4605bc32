"""The stages of the job: where the work stands, what each lacks, and which to begin."""

from collections import Counter
from dataclasses import dataclass
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widget import Widget

from chargeassist.guide import wording
from chargeassist.guide.stages.choice import known_stage
from chargeassist.guide.stages.course import StageCourse, StageState, state_of
from chargeassist.guide.stages.missing import lacking
from chargeassist.model import display
from chargeassist.model.events import Stage
from chargeassist.model.text import plain
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens.overlay import TextOverlay
from chargeassist.tui.widgets.panel import Panel, hanging, joined, touch

_NAME = 16
_BETTER = "judged better with "
_ROOMY = 30
"""Lines of a screen on which nothing is cut."""


@dataclass(frozen=True, slots=True)
class StagePick:
    """The stage that was picked, and whether it is to be skipped instead of begun."""

    stage: Stage
    skip: bool = False


def offered(scene: Scene) -> tuple[Stage, ...]:
    """Return the stages that can be begun, in the order of the job."""
    return tuple(
        stage
        for stage in Stage
        if known_stage(stage.value) is not None and stage is not Stage.CHARGING
    )


class StagesText(Panel):
    """One entry per stage: where it stands, its checks so far, what the job file lacks for it."""

    def __init__(self, scene: Scene) -> None:
        super().__init__(scene)
        self.skipping = False

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the list."""
        pen, palette = scene.pen, scene.pen.palette
        present = None if scene.snapshot is None else scene.snapshot.stage
        hint = "" if scene.replayed else "   a number begins one, x and a number skips one"
        title = pen.line(("Stages of the job", "bold"), (hint, palette.faint))
        if self.skipping:
            ask = "   which is skipped? its number; x again: none"
            title = pen.line(("Stages of the job", "bold"), (ask, f"bold {palette.warning}"))
        rows = [title]
        for number, stage in enumerate(offered(scene), start=1):
            here = stage is present or (stage is Stage.RUN_UP and present is Stage.CHARGING)
            name = pen.line(
                (f" {number} ", "bold reverse"), (f" {stage.value}", "bold" if here else "")
            )
            head = pen.cut(name, _NAME + 3)
            told = hanging(head, _NAME + 4, self._state(scene, stage, here=here), width)
            rows += [touch(row, f"screen.pick({number})") for row in told]
            for text, style in self._details(scene, stage):
                line = pen.line((text, style))
                # In full where it is worked on, or where the screen has room for the whole list.
                if text.startswith(_BETTER) and not here and self.app.size.height < _ROOMY:
                    rows.append(pen.brief(Content(" " * (_NAME + 4)) + line, width))
                    continue
                rows += hanging(Content(""), _NAME + 4, line, width)
        return joined(rows)

    def _state(self, scene: Scene, stage: Stage, *, here: bool) -> Content:
        pen = scene.pen
        snapshot = scene.snapshot
        if snapshot is None:
            return pen.line(("open", pen.palette.faint))
        judged = [each.result.value for each in snapshot.checks if each.stage is stage]
        course = snapshot.courses.get(stage, StageCourse())
        state = StageState.NOW if here else state_of(stage, snapshot.courses, snapshot.stage)
        parts = [state.value]
        if here and stage is not snapshot.stage:
            parts[0] += f": {snapshot.stage.value}"
        if state is StageState.SKIPPED:
            parts[0] += f" at {display.clock(course.skipped_t or 0.0)}: {plain(course.why, 200)}"
        if course.redone:
            parts.append(f"begun again {course.redone} time{'' if course.redone == 1 else 's'}")
        # What was judged earlier stays; the last verdict of each check follows below.
        parts += [f"before: {each.result.value}" for each in course.judged[:-1][-2:]]
        if state is not StageState.SKIPPED:
            parts += [f"{word} ({n})" if n > 1 else word for word, n in Counter(judged).items()]
        style = "bold" if here else pen.palette.faint if state is StageState.OPEN else ""
        return pen.line((", ".join(parts), style))

    def _details(self, scene: Scene, stage: Stage) -> list[tuple[str, str]]:
        palette = scene.pen.palette
        found: list[tuple[str, str]] = []
        if scene.snapshot is not None:
            for each in scene.snapshot.checks:
                if each.stage is not stage:
                    continue
                found.append((plain(wording.check(each, scene.system), 300), palette.ink))
                if each.sources:
                    found.append((plain(f"by {'; '.join(each.sources)}", 300), palette.faint))
        channels = (
            None
            if scene.snapshot is None
            else [item.channel for item in scene.snapshot.facts.channels]
        )
        lacks = lacking(scene.job, stage, channels)
        needed = "; ".join(f"{lack.what} ({lack.where})" for lack in lacks if lack.needed)
        better = "; ".join(lack.what for lack in lacks if not lack.needed)
        if needed:
            found.append((f"missing: {needed}", palette.warning))
        if better:
            found.append((_BETTER + better, palette.faint))
        return found


class Stages(TextOverlay[StagePick]):
    """A number begins the stage, x and a number skips it; Escape goes back."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q,s", "back", "go back"),
        Binding("x", "skip", "skip"),
        *(Binding(str(number), f"pick({number})", "begin") for number in range(1, 8)),
    ]

    def __init__(self, scene: Scene) -> None:
        super().__init__(scene)
        self._text = StagesText(scene)

    def body(self) -> list[Widget]:
        """Return the list."""
        return [self._text]

    def show(self, scene: Scene) -> None:
        """Keep the list up to date."""
        super().show(scene)
        self._text.show(scene)

    def action_skip(self) -> None:
        """Let the next number skip a stage, or begin one again."""
        self._text.skipping = not self._text.skipping
        self._text.show(self.scene)

    def action_pick(self, number: int) -> None:
        """Begin or skip the stage of that number."""
        stages = offered(self.scene)
        if 1 <= number <= len(stages):
            self.dismiss(StagePick(stages[number - 1], skip=self._text.skipping))
