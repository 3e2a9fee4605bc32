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
        variables={
            **dict.fromkeys(("scrollbar", "scrollbar-hover"), palette.faint),
            "scrollbar-active": palette.ink,
            **dict.fromkeys(_TRACKS, panel),
        },
    )


_TRACKS = (
    "scrollbar-background",
    "scrollbar-background-hover",
    "scrollbar-background-active",
    "scrollbar-corner-color",
)

# Every ink of the palette is read on a box too, and where a terminal has 16 or 256 colours the box
# must not turn into one of them that the inks were not chosen for: black, white, or a grey.
DARK_THEME = _theme("chargeassist-dark", DARK, "#1E2327", dark=True)
LIGHT_THEME = _theme("chargeassist-light", LIGHT, "#F0F0EC", dark=False)
