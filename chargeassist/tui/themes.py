"""The two grounds the board can have."""

from textual.theme import Theme

from chargeassist.tui.pen import DARK, LIGHT, Palette


def _theme(name: str, palette: Palette, panel: str, *, dark: bool) -> Theme:
    return Theme(
        name=name,
        primary=palette.forecast,
        warning=palette.warning,
        error=palette.warning,
        success=palette.band,
        foreground=palette.ink,
        background=palette.ground,
        surface=palette.ground,
        panel=panel,
        dark=dark,
    )


DARK_THEME = _theme("chargeassist-dark", DARK, "#232B32", dark=True)
LIGHT_THEME = _theme("chargeassist-light", LIGHT, "#E4E4DE", dark=False)
