"""What the board shows, at the sizes it is used in. All jobs and readings here are invented."""

import re
from collections.abc import Callable
from dataclasses import replace
from functools import partial

import pytest

from chargeassist.guide import wording
from chargeassist.guide.snapshot import Caution, Snapshot, SourceFacts
from chargeassist.model.channels import Role
from chargeassist.model.display import NO_NUMBER, UnitSystem, difference_number
from chargeassist.model.events import Advice, SessionMode
from chargeassist.stream.facts import ChannelState
from chargeassist.tui.app import Dashboard
from chargeassist.tui.canned import CannedSession, history
from chargeassist.tui.preview import STATES
from tests.tui.running import Drawn, until

SIZES = [(120, 40), (80, 24), (60, 20), (240, 70), (80, 40), (80, 32), (112, 30), (112, 24)]
LONG = {
    "low_superheat": {"superheat_k": 1.1, "limit_k": 2.2},
    "not_the_charge": {"superheat_k": 16.4, "limit_k": 13.9},
    "liquid_pressure_high": {"value_pa": 3.31e6, "limit_pa": 3.1e6},
}


async def picture(
    snapshot: Snapshot,
    size: tuple[int, int],
    drawn: Drawn,
    *,
    system: UnitSystem = UnitSystem.US,
    unicode: bool = True,
    keys: tuple[str, ...] = (),
    record_path: str | None = "x.sqlite",
) -> list[str]:
    """Return the lines of the screen with `snapshot` on it."""
    session = CannedSession([*history(snapshot), snapshot], record_path=record_path)
    app = Dashboard(session, system=system, unicode=unicode)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        app.paint()
        await pilot.press(*keys)
        await pilot.pause()
        return drawn(app)


def joined(lines: list[str]) -> str:
    """Return the screen as one line, so that wrapped sentences can be found."""
    return " ".join(" ".join(lines).split())


@pytest.mark.parametrize("name", sorted(STATES))
async def test_each_size_shows_what_must_be_seen(name: str, drawn: Drawn) -> None:
    snapshot = STATES[name]()
    app = Dashboard(CannedSession([snapshot]), system=UnitSystem.US, unicode=True)
    async with app.run_test(size=(100, 30)) as pilot:
        for size in SIZES if name == "fix" else SIZES[:3]:
            await pilot.resize_terminal(*size)
            await laid_out(app, drawn, partial(check, snapshot, size))


async def laid_out(app: Dashboard, drawn: Drawn, holds: Callable[[list[str]], None]) -> None:
    """Return once what is to hold of the screen's lines does: a layout may take several rounds."""
    missing: list[AssertionError] = []

    def done() -> bool:
        app.paint()
        try:
            holds(drawn(app))
        except AssertionError as error:
            missing[:] = [error]
            return False
        return True

    await until(done, lambda: "\n".join([str(missing[0]), *drawn(app)]), within_s=20.0)


def check(snapshot: Snapshot, size: tuple[int, int], lines: list[str]) -> None:
    """Assert that `lines` show what must never be off the screen."""
    text = joined(lines)
    assert wording.sentence(snapshot.advice, UnitSystem.US) in text
    assert ("SIMULATED" in lines[0]) is (snapshot.mode is SessionMode.SIMULATED)
    assert ("REPLAY" in lines[0]) is snapshot.replayed
    assert "Millrace Lane Library" in lines[0]
    for row in ("now", "target", "°F"):
        assert any(line.strip().startswith(row) for line in lines), (size, row)
    assert "subcooling" in text
    assert "superheat" in text
    assert snapshot.facts.settling.state.value in text
    for label in ("liquid", "suction"):
        for quantity in ("pressure", "temperature"):
            assert any(
                line.strip().startswith((f"{label} {quantity}", f"{label} line {quantity}"))
                and any(state.value in line for state in ChannelState)
                for line in lines
            ), (size, label, quantity)
    step = snapshot.facts.ledger[-1]
    after = NO_NUMBER if step.after_k is None else difference_number(step.after_k, UnitSystem.US)
    assert f"→ {after} °F" in text
    open_now = snapshot.facts.step_open is not None
    step_key = "e" if open_now else "a"
    hold = "g" if snapshot.facts.hold.held else "f"
    marks = () if snapshot.replayed else (step_key, "r", hold, "n")
    for key in (*marks, "c", "w", "u", "?", "q"):
        assert any(f" {key} " in line for line in lines[-2:]), (size, key)
    assert all(len(line) <= size[0] for line in lines)


@pytest.mark.parametrize("system", list(UnitSystem))
@pytest.mark.parametrize("cause", sorted(LONG))
async def test_a_long_reason_is_wrapped_and_never_cut(
    cause: str, system: UnitSystem, drawn: Drawn
) -> None:
    fix = STATES["fix"]()
    advice = Advice(t=fix.t, action=fix.advice.action, cause=cause, figures=LONG[cause])
    for size in ((60, 20), (80, 24)):
        lines = await picture(replace(fix, advice=advice), size, drawn, system=system)
        assert wording.sentence(advice, system) in joined(lines)


async def test_the_numbers_of_a_settled_moment(drawn: Drawn) -> None:
    lines = await picture(STATES["add"](), (120, 40), drawn)
    text = joined(lines)
    # 3.7 K is 6.66 °F; 0.42 K is 0.76 °F; 85 g is 3.0 oz; by hand, 1 K = 1.8 °F, 1 oz = 28.35 g.
    assert "at 6.7 ± 0.8 °F" in text
    assert "Add 3.0 oz: 6.7 ± 0.8 °F settled, target is 7.6 to 10.4 °F" in text
    assert any("2 18:10 3.0 oz 4.3 → 6.7 °F" in " ".join(line.split()) for line in lines)
    # 15.3 K/kg is 15.3 x 1.8 x 0.02835 = 0.78 °F per oz.
    assert "+0.8 °F per oz" in text
    assert "in the circuit 4 lb 15.2 oz of 5 lb 6.4 oz" in text  # 2.245 and 2.45 kg
    assert "held at 72 Hz for 17:41" in text
    assert "subcooling, °F, last 15 min" in text


async def test_earlier_steps_are_counted_and_take_no_room_from_the_newest(drawn: Drawn) -> None:
    one = STATES["stop"]()
    steps = tuple(replace(one.facts.ledger[-1], number=n) for n in range(1, 10))
    snapshot = replace(one, facts=replace(one.facts, ledger=steps))
    lines = await picture(snapshot, (120, 40), drawn)
    head = next(at for at, line in enumerate(lines) if line.strip().startswith("step "))
    assert "told by" in lines[head]
    below = [line.split("│")[0].split() for line in lines[head + 1 :]]
    assert below[0][0] in {str(step.number) for step in steps}
    total = next(row for row in below if row[:3] == ["in", "the", "circuit"])
    assert "7 earlier steps" in " ".join(total)


async def test_the_same_moment_in_si(drawn: Drawn) -> None:
    text = joined(await picture(STATES["add"](), (120, 40), drawn, system=UnitSystem.SI))
    assert "Add 85 g: 3.7 ± 0.4 K settled" in text
    assert "2318 kPa gauge" in text
    assert "in the circuit 2.25 kg of 2.45 kg" in text or "2.24 kg of 2.45 kg" in text
    assert "+1.5 K per 100 g" in text


async def test_a_silent_probe_says_since_when_and_why(drawn: Drawn) -> None:
    lines = await picture(STATES["fix"](), (120, 40), drawn)
    row = next(line for line in lines if line.strip().startswith("liquid line temperature"))
    assert "nothing for 47 s" in row
    assert "× no signal" in row
    text = joined(lines)
    assert "roof gateway lost for 47 s: broker closed the line" in text
    assert "cart: 3 unreadable, 2 dropped" in text
    assert "no signal: no liquid line temperature for 47 s" in text


async def test_the_plot_needs_room(drawn: Drawn) -> None:
    for size, shown in (((80, 24), False), ((112, 24), False), ((80, 40), True), ((120, 30), True)):
        text = joined(await picture(STATES["add"](), size, drawn))
        assert ("last 15 min" in text) is shown, size


async def test_what_is_not_recorded_says_so(drawn: Drawn) -> None:
    field = STATES["add"]()
    assert "NOT RECORDED" in (await picture(field, (60, 20), drawn, record_path=None))[0]
    assert "NOT RECORDED" not in (await picture(field, (60, 20), drawn))[0]
    again = STATES["replay"]()
    assert "NOT RECORDED" not in (await picture(again, (60, 20), drawn, record_path=None))[0]


async def test_simulated_stays_in_sight_under_every_question(drawn: Drawn) -> None:
    app = Dashboard(CannedSession([STATES["simulated"]()]), unicode=True)
    async with app.run_test(size=(80, 24)) as pilot:
        for size in ((80, 24), (60, 20)):
            await pilot.resize_terminal(*size)
            for keys in (("f",), ("n",), ("q",), ("question_mark",), ("r",), ("a", "e")):
                await pilot.press(*keys)
                await pilot.pause()
                assert len(app.screen_stack) == 2, keys
                assert "SIMULATED" in drawn(app)[0], (size, keys)
                await pilot.press("escape")


@pytest.mark.parametrize(
    ("name", "plain_name"),
    [
        ("[bold red]x[/]", "[bold red]x[/]"),
        ("[/nothing", "[/nothing"),
        ("\x1b[31mred\x07", "·[31mred·"),
        ("abc\u202etxt", "abc·txt"),
        ("two\nlines", "two·lines"),
    ],
)
async def test_names_from_outside_are_drawn_as_text(
    name: str, plain_name: str, drawn: Drawn
) -> None:
    base = STATES["fix"]()
    lost = SourceFacts(name=name, lost_since=1156.0, reason=name)
    channels = tuple(
        replace(each, why=name) if each.state is ChannelState.NO_SIGNAL else each
        for each in base.facts.channels
    )
    advice = replace(base.advice, subject=name)
    snapshot = replace(
        base,
        job=replace(base.job, name=name),
        facts=replace(base.facts, channels=channels),
        advice=advice,
        sources=(lost,),
        notes=((1.0, name),),
        cautions=(Caution(cause="record_failing", subject=name),),
    )
    lines = await picture(snapshot, (120, 40), drawn)
    text = "\n".join(lines)
    assert plain_name in lines[0]
    assert f"{plain_name} lost for 47 s: {plain_name}" in text
    assert f"note      {plain_name}" in text
    assert f"the record cannot be written: {plain_name}" in text
    assert f"no signal from {plain_name} for 47 s" in text
    assert not any(letter in text for letter in "\x1b\x07\u202e")


async def test_a_terminal_without_unicode_gets_ascii_only(drawn: Drawn) -> None:
    for name, size in (("fix", (80, 24)), ("stop", (120, 40)), ("moving", (60, 20))):
        lines = await picture(STATES[name](), size, drawn, unicode=False)
        text = "\n".join(lines)
        assert text.isascii(), [letter for letter in text if not letter.isascii()]
    text = "\n".join(await picture(STATES["add"](), (80, 24), drawn, unicode=False, keys=("q",)))
    assert text.isascii()


async def test_no_color_leaves_words_and_shapes(
    monkeypatch: pytest.MonkeyPatch, drawn: Drawn
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    app = Dashboard(CannedSession([STATES["moving"]()]), system=UnitSystem.US, unicode=True)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        app.paint()
        await pilot.pause()
        assert app.no_color
        text = joined(drawn(app))
        styles = re.findall(r"\.terminal-\d+-r\d+ \{ fill: #(\w{6})", app.export_screenshot())
        greys = [bytes.fromhex(style) for style in styles]
    assert "▲ moving" in text
    assert "● settled" in text
    assert greys
    # The picture's own default ink is c5c8c6.
    assert all(max(grey) - min(grey) <= 3 for grey in greys), styles


async def test_an_instruction_without_a_sentence_is_still_shown(drawn: Drawn) -> None:
    base = STATES["fix"]()
    advice = replace(base.advice, cause="something_new", figures={})
    text = joined(await picture(replace(base, advice=advice), (80, 24), drawn))
    assert "Fix first: something new" in text


async def test_many_channels_leave_the_main_ones_and_say_how_many_are_hidden(
    drawn: Drawn,
) -> None:
    lines = await picture(STATES["moving"](), (80, 24), drawn)
    assert any("4 more" in line for line in lines)
    base = STATES["moving"]()
    silent = tuple(
        replace(each, value_si=None, state=ChannelState.NO_SIGNAL, why="nothing for 20 s")
        if each.channel.role is Role.CYLINDER_MASS
        else each
        for each in base.facts.channels
    )
    lines = await picture(
        replace(base, facts=replace(base.facts, channels=silent)), (80, 24), drawn
    )
    # The silent one is pulled up among those shown.
    assert any(line.strip().startswith("cylinder scale") for line in lines)


async def test_no_size_is_too_small_or_too_large_to_draw(drawn: Drawn) -> None:
    many = STATES["stop"]()
    steps = tuple(replace(many.facts.ledger[-1], number=n) for n in range(1, 40))
    snapshot = replace(many, facts=replace(many.facts, ledger=steps))
    app = Dashboard(CannedSession([*history(snapshot), snapshot]), unicode=True)
    async with app.run_test(size=(80, 24)) as pilot:
        for size in ((10, 3), (1, 1), (20, 60), (40, 12), (79, 23), (300, 90), (400, 10)):
            await pilot.resize_terminal(*size)
            await pilot.press("u", "d")
            await pilot.pause()
            assert len(drawn(app)) == size[1]


async def test_before_the_first_values_the_board_says_wait(drawn: Drawn) -> None:
    class Slow(CannedSession):
        async def run(self, on_snapshot: Callable[[Snapshot], None]) -> None:
            self.snapshots.clear()
            await super().run(on_snapshot)

    for size in ((80, 24), (120, 40)):
        app = Dashboard(Slow([STATES["simulated"]()]), unicode=True)
        async with app.run_test(size=size) as pilot:
            await pilot.press("a", "e", "g", "f")
            await pilot.pause()
            lines = drawn(app)
        assert "SIMULATED" in lines[0]
        assert "Wait: no values yet." in joined(lines)
        assert "Not yet: no values have arrived." in joined(lines)


async def test_the_settled_value_is_that_of_the_sentence(drawn: Drawn) -> None:
    snapshot = STATES["add"]()
    settled = snapshot.facts.settled
    assert settled is not None
    said_k = snapshot.advice.figures["subcooling_k"]
    # A few ticks later the mean has moved, and the sentence has not been made anew yet.
    later = replace(settled, value_k=said_k + 0.2)
    snapshot = replace(snapshot, facts=replace(snapshot.facts, settled=later))
    lines = await picture(snapshot, (112, 36), drawn, system=UnitSystem.SI)
    shown = re.search(r"at (\S+) ±", joined(lines))
    assert shown is not None
    assert shown[1] == difference_number(said_k, UnitSystem.SI)
    assert shown[1] != difference_number(later.value_k, UnitSystem.SI)
