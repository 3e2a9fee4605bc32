"""On a screen or as text, and in which units."""

from dataclasses import replace

import pytest

from chargeassist.cli.main import main
from chargeassist.cli.shown import on_screen, shown_in, usual_units
from chargeassist.model.display import UnitSystem
from chargeassist.session.job.demo import demo_job


@pytest.mark.parametrize(
    ("environment", "units"),
    [
        ({"LANG": "en_US.UTF-8"}, UnitSystem.US),
        ({"LANG": "en_CA.UTF-8"}, UnitSystem.SI),
        ({"LANG": "de_DE@euro"}, UnitSystem.SI),
        ({"LANG": "en_US.UTF-8", "LC_MEASUREMENT": "de_DE.UTF-8"}, UnitSystem.SI),
        ({"LANG": "de_DE", "LC_MEASUREMENT": "en_US"}, UnitSystem.US),
        ({"LC_ALL": "C.UTF-8", "LC_MEASUREMENT": "en_US"}, UnitSystem.SI),
    ],
)
def test_the_locale_says_what_is_usual(environment: dict[str, str], units: UnitSystem) -> None:
    # Order of the variables: POSIX.1-2017, 8.2; territories: CLDR, from memory.
    assert usual_units(environment) is units


def test_the_name_of_a_locale_of_windows_has_its_territory_in_words(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for name, units in (
        ("English_United States", UnitSystem.US),
        ("German_Germany", UnitSystem.SI),
    ):
        monkeypatch.setattr("locale.getlocale", lambda name=name: (name, "1252"))
        assert usual_units({}) is units


def test_asked_for_goes_before_the_job_and_the_job_before_the_locale(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("LC_ALL", "en_US.UTF-8")
    job = demo_job("library", None)
    assert shown_in("si", replace(job, units="us")) is UnitSystem.SI
    assert shown_in(None, replace(job, units="si")) is UnitSystem.SI
    assert shown_in(None, replace(job, units="")) is UnitSystem.US


def test_in_a_browser_there_is_always_a_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    assert not on_screen(as_text=False), "pytest is no terminal"
    # What textual-serve tells the program it runs.
    monkeypatch.setenv("TEXTUAL_DRIVER", "textual.drivers.web_driver:WebDriver")
    assert on_screen(as_text=False)
    assert on_screen(as_text=True)


def test_a_drill_that_is_served_opens_its_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[object] = []

    def opens(exercise: object, _: object) -> int:
        opened.append(exercise)
        return 0

    monkeypatch.setenv("TEXTUAL_DRIVER", "textual.drivers.web_driver:WebDriver")
    monkeypatch.setattr("chargeassist.cli.drill._on_dashboard", opens)
    assert main(["drill", "clean-charge"]) == 0
    assert len(opened) == 1
