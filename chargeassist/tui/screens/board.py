"""The board: the whole dashboard on one screen."""

from textual.app import ComposeResult
from textual.containers import Container
from textual.screen import Screen

from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.banner import Banner, Reason
from chargeassist.tui.widgets.channel_table import ChannelTable
from chargeassist.tui.widgets.key_bar import KeyBar
from chargeassist.tui.widgets.ledger import Ledger
from chargeassist.tui.widgets.number_line import NumberLine
from chargeassist.tui.widgets.panel import Panel
from chargeassist.tui.widgets.top_bar import TopBar
from chargeassist.tui.widgets.trend_plot import TrendPlot
from chargeassist.tui.widgets.values import Values
from chargeassist.tui.widgets.watch import Watch


class Board(Screen[None]):
    """Sentence first, numbers under it, keys last; what is shown where is up to ``app.tcss``."""

    def __init__(self, scene: Scene) -> None:
        super().__init__()
        self.scene = scene

    def compose(self) -> ComposeResult:
        """Put the parts one below the other."""
        yield TopBar(self.scene)
        yield Banner(self.scene)
        yield Reason(self.scene)
        yield NumberLine(self.scene)
        yield Values(self.scene)
        with Container(id="middle"):
            with Container(id="tables"):
                yield ChannelTable(self.scene)
                yield Ledger(self.scene)
            yield TrendPlot(self.scene)
        yield Watch(self.scene)
        yield KeyBar(self.scene)

    def show(self, scene: Scene) -> None:
        """Show `scene` on every part."""
        self.scene = scene
        with self.app.batch_update():
            # The text lines inside the values are panels too; their cell shows them.
            for panel in self.query(Panel):
                if panel.parent is not None and panel.parent.parent is not self.query_one(Values):
                    panel.show(scene)
            self.query_one(Values).show(scene)
            self.query_one(TrendPlot).show(scene)
