"""Letters of half blocks, five pixels high with room for a descender: to be read across a room.

A pixel is one column wide and half a line high, so a letter takes three lines; tall or at double
size it takes six. Only the letters that instructions and values are made of are here.
"""

_GLYPHS = {
    " ": ("..", "..", "..", "..", "..", ".."),
    ".": (".", ".", ".", ".", "#", "."),
    "-": ("...", "...", "###", "...", "...", "..."),
    "–": ("...", "...", "###", "...", "...", "..."),
    "±": (".#.", "###", ".#.", "...", "###", "..."),
    "°": (".#.", "#.#", ".#.", "...", "...", "..."),
    "A": (".##.", "#..#", "####", "#..#", "#..#", "...."),
    "C": (".###", "#...", "#...", "#...", ".###", "...."),
    "D": ("###.", "#..#", "#..#", "#..#", "###.", "...."),
    "E": ("####", "#...", "###.", "#...", "####", "...."),
    "F": ("####", "#...", "###.", "#...", "#...", "...."),
    "I": ("#", "#", "#", "#", "#", "."),
    "O": (".##.", "#..#", "#..#", "#..#", ".##.", "...."),
    "P": ("###.", "#..#", "###.", "#...", "#...", "...."),
    "R": ("###.", "#..#", "###.", "#.#.", "#..#", "...."),
    "S": (".###", "#...", ".##.", "...#", "###.", "...."),
    "T": ("#####", "..#..", "..#..", "..#..", "..#..", "....."),
    "V": ("#...#", "#...#", ".#.#.", ".#.#.", "..#..", "....."),
    "W": ("#...#", "#...#", "#.#.#", "##.##", "#...#", "....."),
    "X": ("#...#", ".#.#.", "..#..", ".#.#.", "#...#", "....."),
    "B": ("###.", "#..#", "###.", "#..#", "###.", "...."),
    "G": (".###", "#...", "#.##", "#..#", ".###", "...."),
    "H": ("#..#", "#..#", "####", "#..#", "#..#", "...."),
    "K": ("#..#", "#.#.", "##..", "#.#.", "#..#", "...."),
    "L": ("#...", "#...", "#...", "#...", "####", "...."),
    "M": ("#...#", "##.##", "#.#.#", "#...#", "#...#", "....."),
    "N": ("#...#", "##..#", "#.#.#", "#..##", "#...#", "....."),
    "U": ("#..#", "#..#", "#..#", "#..#", ".##.", "...."),
    "Y": ("#...#", ".#.#.", "..#..", "..#..", "..#..", "....."),
    ":": (".", "#", ".", "#", ".", "."),
    "a": ("....", ".###", "#..#", "#..#", ".###", "...."),
    "i": ("#", ".", "#", "#", "#", "."),
    "p": ("....", "###.", "#..#", "###.", "#...", "#..."),
    "b": ("#...", "#...", "###.", "#..#", "###.", "...."),
    "g": ("....", ".###", "#..#", ".###", "...#", ".##."),
    "k": ("#..", "#..", "#.#", "##.", "#.#", "..."),
    "l": ("#", "#", "#", "#", "#", "."),
    "o": ("....", "....", ".##.", "#..#", ".##.", "...."),
    "s": ("....", ".###", "##..", "..##", "###.", "...."),
    "t": (".#.", "###", ".#.", ".#.", ".##", "..."),
    "z": ("....", "....", "####", ".#..", "####", "...."),
    "0": (".##.", "#..#", "#..#", "#..#", ".##.", "...."),
    "1": (".#.", "##.", ".#.", ".#.", "###", "..."),
    "2": ("###.", "...#", ".##.", "#...", "####", "...."),
    "3": ("###.", "...#", ".##.", "...#", "###.", "...."),
    "4": ("#..#", "#..#", "####", "...#", "...#", "...."),
    "5": ("####", "#...", "###.", "...#", "###.", "...."),
    "6": (".##.", "#...", "###.", "#..#", ".##.", "...."),
    "7": ("####", "...#", "..#.", ".#..", ".#..", "...."),
    "8": (".##.", "#..#", ".##.", "#..#", ".##.", "...."),
    "9": (".##.", "#..#", ".###", "...#", ".##.", "...."),
}

_ICONS = {
    "wait": ("#####", ".###.", "..#..", ".###.", "#####", "....."),
    "add": ("..#..", "..#..", "#####", "..#..", "..#..", "....."),
    "stop": ("#####", "#####", "#####", "#####", "#####", "....."),
    "recover": ("..#..", "..#..", "#####", ".###.", "..#..", "....."),
    "fix first": ("..#..", "..#..", "..#..", ".....", "..#..", "....."),
    "do": ("#....", "###..", "#####", "###..", "#....", "....."),
    "settled": (".###.", "#####", "#####", "#####", ".###.", "....."),
    "nearly settled": (".###.", "##..#", "##..#", "##..#", ".###.", "....."),
    "moving": ("..#..", "..#..", ".###.", ".###.", "#####", "....."),
    "two-phase": ("..#..", ".#.#.", "#...#", ".#.#.", "..#..", "....."),
    "no signal": ("#...#", ".#.#.", "..#..", ".#.#.", "#...#", "....."),
    "by hand": ("#####", "#####", "#####", "#####", "#####", "....."),
}
"""Hourglass, plus, block, arrow down, exclamation mark, arrow to the right; then the states."""

_HALVES = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def big(
    text: str,
    icon: str = "",
    *,
    double: bool = False,
    tall: bool = False,
    lowered: bool = False,
    bare: bool = False,
) -> list[str] | None:
    """Return `text` as lines of half blocks, three of them, or six when `double` or `tall`.

    Parameters
    ----------
    text : str
    icon : str
        Name of an action or a state whose shape goes before the text; empty for none.
    double : bool
        Two columns and one line for a pixel.
    tall : bool
        One column and one line for a pixel: as high, where the width is not there.
    lowered : bool
        Half a line of room above the letters, and half a line below: four lines.
    bare : bool
        No room for a descender, for text that has none: the letters stand on the last line.

    Returns
    -------
    list of str or None
        Lines of equal length; None when a letter is missing.
    """
    if any(letter not in _GLYPHS for letter in text):
        return None
    glyphs = [_GLYPHS[letter] for letter in text]
    if icon:
        glyphs[:0] = [_ICONS[icon], _GLYPHS[" "]]
    rows = [".".join(glyph[row] for glyph in glyphs) for row in range(6)]
    if bare:
        rows = rows[:5] if double or tall else ["." * len(rows[0]), *rows[:5]]
    if lowered:
        blank = "." * len(rows[0])
        rows = [blank, *rows, blank]
    if double or tall:
        full, blank = ("██", "  ") if double else ("█", " ")
        return ["".join(full if pixel == "#" else blank for pixel in row) for row in rows]
    return [
        "".join(
            _HALVES[upper == "#", lower == "#"]
            for upper, lower in zip(rows[row], rows[row + 1], strict=True)
        )
        for row in range(0, len(rows), 2)
    ]


def with_rest_small(text: str, icon: str, width: int) -> list[str] | None:
    """Return the first words of `text` in letters of three lines, the others plain beside them.

    What is to be done is seen from afar where the room is not for the whole. Where not even the
    first word has room, it is the shape alone that is large.

    Parameters
    ----------
    text : str
    icon : str
        Name of the shape that goes before it where there is room for it.
    width : int
        Cells there are.

    Returns
    -------
    list of str or None
        Lines of any length; None where there is no room for shape and text.
    """
    words = text.split(" ")
    for cut in range(len(words) - 1, 0, -1):
        if words[cut - 1][0].isdigit():
            continue  # a number and its unit are not parted
        rest = " ".join(words[cut:])
        for shape in dict.fromkeys((icon, "")):
            shown = big(" ".join(words[:cut]), shape)
            if shown is not None and len(shown[0]) + 2 + len(rest) <= width:
                return [shown[0], f"{shown[1]}  {rest}", shown[2]]
    shape_alone = big("", icon)
    if shape_alone is None or len(shape_alone[0]) + len(text) > width:
        return None
    return [shape_alone[0], f"{shape_alone[1]}{text}", shape_alone[2]]


def stacked(text: str, icon: str, width: int) -> list[str] | None:
    """Return `text` in two lines of letters, six lines of half blocks.

    Parameters
    ----------
    text : str
    icon : str
        Name of the shape that goes before the first line where there is room for it.
    width : int
        Cells there are.

    Returns
    -------
    list of str or None
        None where a letter is missing, or no two lines are short enough.
    """
    words = text.split(" ")
    for shape in dict.fromkeys((icon, "")):
        indent = " " * len(".".join((_ICONS[shape][0], _GLYPHS[" "][0], ""))) if shape else ""
        found = []
        for cut in range(1, len(words)):
            first, second = big(" ".join(words[:cut]), shape), big(" ".join(words[cut:]))
            if first is not None and second is not None:
                found.append([*first, *(indent + row for row in second)])
        best = min(found, key=lambda rows: max(map(len, rows)), default=None)
        if best is not None and max(map(len, best)) <= width:
            return best
    return None
