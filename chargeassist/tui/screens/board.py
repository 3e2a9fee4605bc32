"""The board: the whole dashboard on one screen."""

from textual.app import ComposeResult
from textual.containers import Container
from textual.events import Resize
from textual.screen import Screen

from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.banner import Banner, Reason
from chargeassist.tui.widgets.channel_table import ChannelTable
from chargeassist.tui.widgets.key_bar import KeyBar
from chargeassist.tui.widgets.large_value import LargeValue
from chargeassist.tui.widgets.ledger import Ledger
from chargeassist.tui.widgets.notices import Notices, unread
from chargeassist.tui.widgets.number_line import NumberLine
from chargeassist.tui.widgets.panel import SLIM
from chargeassist.tui.widgets.stage_table import StageTable
from chargeassist.tui.widgets.top_bar import TopBar
from chargeassist.tui.widgets.trend_plot import TrendPlot
from chargeassist.tui.widgets.values import Values


class SessionScreen(Screen[None]):
    """The screen that a session stands on; what is asked and told comes over it."""

    def show(self, scene: Scene) -> None:
        """Show `scene` on every part."""
        raise NotImplementedError


class Board(SessionScreen):
    """Sentence first, numbers under it, keys last; what is shown where is up to ``app.tcss``.

    In large print the sentence and the judged value, with its state and target, have the screen to
    themselves. In a stage in which the unit does not run, the stage's table stands where subcooling
    stood.
    """

    def __init__(self, scene: Scene) -> None:
        super().__init__()
        self._top = (TopBar(scene), Banner(scene), Reason(scene), NumberLine(scene))
        self._values = Values(scene)
        self._large = LargeValue(scene)
        self._tables = (ChannelTable(scene), Ledger(scene))
        self._stage = StageTable(scene)
        self._trend = TrendPlot(scene)
        self._bottom = (Notices(scene), KeyBar(scene))

    def compose(self) -> ComposeResult:
        """Put the parts one below the other."""
        yield from self._top
        yield self._values
        yield self._large
        yield self._stage
        with Container(id="middle"):
            with Container(id="tables"):
                yield from self._tables
            yield self._trend
        with Container(id="foot"):
            yield from self._bottom

    def on_resize(self, event: Resize) -> None:
        """Put the values below each other where they would break beside each other."""
        self.set_class(event.size.width < SLIM, "-slim")

    def show(self, scene: Scene) -> None:
        """Show `scene` on every part."""
        shot = scene.snapshot
        in_stage = shot is not None and shot.stage_step is not None
        with self.app.batch_update():
            self.set_class(in_stage, "-stage")
            self.set_class(shot is None or not shot.facts.ledger, "-no-steps")
            self.set_class(unread(scene) is not None, "-caution")
            self.set_class(scene.trend.stage.plot is not None, "-curve")
            self._stage.show(scene)
            for panel in (*self._top, *self._tables, *self._bottom):
                panel.show(scene)
            self._values.show(scene)
            self._large.show(scene)
            self._trend.show(scene)
