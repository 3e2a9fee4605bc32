"""The two grounds the board can have."""

from textual.theme import Theme

from chargeassist.tui.pen import DARK, LIGHT

DARK_THEME = Theme(
    name="chargeassist-dark",
    primary=DARK.forecast,
    warning=DARK.warning,
    error=DARK.warning,
    success=DARK.band,
    foreground=DARK.ink,
    background=DARK.ground,
    surface=DARK.ground,
    panel="#232B32",
    dark=True,
)
LIGHT_THEME = Theme(
    name="chargeassist-light",
    primary=LIGHT.forecast,
    warning=LIGHT.warning,
    error=LIGHT.warning,
    success=LIGHT.band,
    foreground=LIGHT.ink,
    background=LIGHT.ground,
    surface=LIGHT.ground,
    panel="#E4E4DE",
    dark=False,
)
