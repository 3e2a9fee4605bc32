"""The README's picture is the dashboard of today, not of some earlier program."""

import re
from html import unescape
from pathlib import Path

import pytest

from chargeassist.tui.picture import MOMENT, moment, picture

ROOT = Path(__file__).parents[2]


def said(svg: str) -> list[str]:
    """Return the instruction with its reason, and what the ledger says; the moment is no matter."""
    pieces = re.findall(r"<text[^>]*>([^<]*)</text>", svg)
    text = " ".join(unescape(" ".join(pieces)).split())
    return re.findall(r"Add \d+ g: .*? to go|\d+ g (?=[\d.]+ →)|→ [\d.]+ K", text)


async def test_the_readmes_picture_says_what_the_program_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = said((ROOT / ".github" / "dashboard.svg").read_text(encoding="utf-8"))
    monkeypatch.chdir(tmp_path)
    now = said(await picture("library", moment(MOMENT), (112, 36)))
    assert now == kept, (
        "make it anew: python -m chargeassist.tui.picture --size 112x36 --out .github/dashboard.svg"
    )
    assert kept[0].startswith("Add ")
    assert len(kept) == 5
