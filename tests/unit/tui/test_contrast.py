"""What is written can be read: on its ground, on a box, dark and light, with few colours too."""

import pytest
from rich.color import Color, ColorSystem
from textual.theme import Theme

from chargeassist.stream.facts import SettleState
from chargeassist.tui.pen import DARK, LIGHT, Palette
from chargeassist.tui.themes import DARK_THEME, LIGHT_THEME
from tests.unit.tui.contrast import contrast


def inks_of(palette: Palette) -> list[str]:
    """Return every colour that letters are written in."""
    inks = [palette.ink, palette.faint, palette.mark, palette.warning, palette.forecast]
    return [*inks, *palette.states.values()]


def in_16(colour: str) -> str:
    """Return the colour that a terminal of 16 colours shows, by the rule of the library."""
    shown = Color.parse(colour.lower()).downgrade(ColorSystem.STANDARD).get_truecolor()
    return shown.hex


THEMES = [(DARK, DARK_THEME), (LIGHT, LIGHT_THEME)]


@pytest.mark.parametrize("palette", [DARK, LIGHT])
def test_every_ink_can_be_read_on_its_ground(palette: Palette) -> None:
    # WCAG 2.1, success criterion 1.4.3: 4.5 to 1 for text.
    for ink in inks_of(palette):
        assert contrast(ink, palette.ground) >= 4.5, ink
    for fill in palette.fills.values():
        assert contrast(palette.on_fill, fill) >= 4.5, fill
    assert contrast(palette.ink, palette.band_ground) >= 4.5


@pytest.mark.parametrize(("palette", "theme"), THEMES)
def test_every_ink_can_be_read_on_a_box(palette: Palette, theme: Theme) -> None:
    assert theme.panel is not None
    for ink in inks_of(palette):
        assert contrast(ink, theme.panel) >= 4.5, ink
    # WCAG 2.1, success criterion 1.4.11: 3 to 1 for what has to be seen to use a thing.
    colours = theme.to_color_system().generate()
    for thumb in ("scrollbar", "scrollbar-hover", "scrollbar-active"):
        assert contrast(colours[thumb], colours["scrollbar-background"]) >= 3.0, thumb


@pytest.mark.parametrize(("palette", "theme"), THEMES)
def test_few_colours_leave_ground_and_box_what_the_inks_were_chosen_for(
    palette: Palette, theme: Theme
) -> None:
    assert theme.panel is not None
    assert in_16(theme.panel) == in_16(palette.ground)
    grey = Color.parse(theme.panel.lower()).downgrade(ColorSystem.EIGHT_BIT).get_truecolor()
    assert grey.red == grey.green == grey.blue
    # Trouble is neither the colour of plain text nor of what is in order.
    others = {in_16(palette.ink), in_16(palette.faint), in_16(palette.band)}
    assert in_16(palette.warning) not in others | {in_16(palette.ground)}
    assert in_16(palette.states[SettleState.NO_SIGNAL.value]) not in others


XTERM = {
    0: "#000000", 1: "#CD0000", 2: "#00CD00", 3: "#CDCD00", 4: "#0000EE", 5: "#CD00CD",
    6: "#00CDCD", 7: "#E5E5E5", 8: "#7F7F7F", 9: "#FF0000", 10: "#00FF00", 11: "#FFFF00",
    12: "#5C5CFF", 13: "#FF00FF", 14: "#00FFFF", 15: "#FFFFFF",
}  # fmt: skip
"""The 16 colours as xterm has them: app-defaults XTerm-col, colours named in X11's rgb.txt."""


@pytest.mark.parametrize("palette", [DARK, LIGHT])
def test_every_ink_can_be_read_in_16_colours(palette: Palette) -> None:
    def shown(colour: str) -> str:
        number = Color.parse(colour.lower()).downgrade(ColorSystem.STANDARD).number
        assert number is not None
        return XTERM[number]

    # WCAG 2.1, success criterion 1.4.3: 3 to 1 for bold letters, which the states are written in.
    for ink in inks_of(palette):
        assert contrast(shown(ink), shown(palette.ground)) >= 3.0, ink
