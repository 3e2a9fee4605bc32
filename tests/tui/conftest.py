"""What the screen tests share: the picture as lines of text."""

import html
import re
from collections.abc import Callable
from typing import Any

import pytest
from textual.app import App

_CELL = re.compile(
    r'<text class="[^"]*" x="([\d.]+)" y="([\d.]+)" textLength="[\d.]+"[^>]*>(.*?)</text>',
    re.DOTALL,
)
_CELL_WIDTH, _LINE_HEIGHT, _FIRST_LINE = 12.2, 24.4, 20.0


@pytest.fixture(autouse=True)
def _utf8_terminal_without_no_color(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)


@pytest.fixture
def drawn() -> Callable[[App[Any]], list[str]]:
    """Return a function that gives what is on the screen, line by line, as it would be printed."""

    def lines(app: App[Any]) -> list[str]:
        rows = [[" "] * app.size.width for _ in range(app.size.height)]
        for x, y, text in _CELL.findall(app.export_screenshot()):
            column = round(float(x) / _CELL_WIDTH)
            line = round((float(y) - _FIRST_LINE) / _LINE_HEIGHT)
            letters = html.unescape(text).replace("\N{NO-BREAK SPACE}", " ")
            if 0 <= line < len(rows):
                rows[line][column : column + len(letters)] = letters
        return ["".join(row).rstrip() for row in rows]

    return lines
