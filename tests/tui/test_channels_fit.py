"""The channels on a screen that has not room for all of them."""

from dataclasses import replace

import pytest

from chargeassist.model.channels import Role
from chargeassist.model.hazards import Hazard
from chargeassist.tui.canned import CannedSession
from chargeassist.tui.preview import simulated
from tests.tui.running import Drawn, running


@pytest.mark.parametrize(
    "size",
    [
        (100, 30),
        (100, 33),
        (100, 36),
        (100, 40),
        (100, 46),
        (112, 30),
        (41, 44),
        (41, 46),
        (41, 52),
    ],
)
@pytest.mark.parametrize("many", [6, 9, 12, 15])
async def test_every_channel_has_its_row_or_is_counted(
    size: tuple[int, int], many: int, drawn: Drawn
) -> None:
    """A caution takes three lines: what it takes from the channels is said, as on a low screen."""
    base = simulated()
    first = base.facts.channels
    more = [
        replace(first[0], channel=replace(first[0].channel, name=role.value, role=role))
        for role in Role
        if role is not Role.VACUUM and role not in {each.channel.role for each in first}
    ]
    facts = replace(base.facts, channels=(*first, *more)[:many])
    snapshot = replace(base, facts=facts, unread=(Hazard.HEIGHT,))
    async with running(CannedSession([snapshot]), size=size) as (app, _):
        rows = drawn(app)
    top = next(at for at, row in enumerate(rows) if row.strip().startswith("channel "))
    named = 0
    for row in rows[top + 1 :]:
        words = row.split()
        if "more" in words and words[0].isdigit():
            named += int(words[0])
            break
        if not any(word in row for word in ("settled", "moving", "signal")):
            break
        named += 1
    assert named == min(many, len(facts.channels))
