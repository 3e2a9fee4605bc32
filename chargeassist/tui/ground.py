"""The ground of a page in a browser: that of the dashboard on it, dark or light."""

from typing import Any

from textual.app import App
from textual.theme import Theme


def keep_ground(app: App[Any]) -> None:
    """Tell the page what is around the cells of `app`, now and whenever its theme changes.

    A terminal of somebody's own keeps its colour: it is told nothing.
    """
    driver = app._driver  # noqa: SLF001 - what the page is told goes no other way
    if driver is None or not driver.is_web:
        return

    def tell(theme: Theme) -> None:
        driver.write(f"\x1b]11;{theme.background}\x07")  # OSC 11: the terminal's background

    app.theme_changed_signal.subscribe(app, tell)
    tell(app.current_theme)
