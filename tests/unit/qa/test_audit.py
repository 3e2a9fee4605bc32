"""Each rule against a session that breaks it and one that does not; the audit over files."""

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import replace
from itertools import permutations
from pathlib import Path

import pytest

from chargeassist.model.channels import Accuracy
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import (
    Event,
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionMode,
    SessionStopped,
    Stage,
)
from chargeassist.model.hazards import Hazard
from chargeassist.qa.archive import Supersedes, make_archive
from chargeassist.qa.audit import (
    MOST_TOLD,
    Audited,
    as_csv,
    as_json,
    as_table,
    audit,
    audit_one,
    crossed,
)
from chargeassist.qa.audit_rules import RULES, Finding, Policy
from chargeassist.qa.many import records_under
from chargeassist.session.record.package import write_package
from tests.unit.qa.audited import SCHOOL, findings, with_channels, with_job


def add(events: Sequence[Event], *more: Event) -> list[Event]:
    """Put events of the technician where their time belongs."""
    found = [*events]
    for event in more:
        place = next(i for i, e in enumerate(found) if e.t > event.t)
        found.insert(place, event)
    return found


def ended(events: Sequence[Event], t: float) -> list[Event]:
    """End the session at `t` as if it were complete."""
    kept = [e for e in events[:-1] if e.t <= t]
    return [*kept, SessionStopped(t=t, outcome=Outcome.COMPLETE)]


@pytest.mark.parametrize("rule", sorted(RULES))
def test_a_good_charge_breaks_no_rule(good: list[Event], rule: str) -> None:
    assert findings(good, rule) == []


def test_ending_before_the_reading_has_settled_is_found(good: list[Event]) -> None:
    step = next(e for e in good if isinstance(e, Mark) and e.kind is MarkKind.STEP_ENDED)
    (found,) = findings(ended(good, step.t + 30.0), "judged_before_settled")
    assert found.text == "ended as complete while the reading was moving"


def test_a_settled_value_that_the_readings_do_not_give_is_found(good: list[Event]) -> None:
    from chargeassist.model.events import Settled

    found = findings(add(good, Settled(t=60.0, subcooling_k=5.0)), "judged_before_settled")
    assert [f.t for f in found] == [60.0]
    late = replace(good[-1], t=good[-1].t)
    claimed = [*good[:200], Settled(t=1e6, subcooling_k=5.0), *good[200:-1], late]
    (found_one,) = findings(claimed, "judged_before_settled")
    assert found_one.t == 1e6, "a claimed time moves nothing"


def test_a_step_over_the_cap_is_found(good: list[Event]) -> None:
    low = with_job(good, lambda j: replace(j, charge=replace(j.charge, step_cap_kg=0.05)))
    found = findings(low, "step_over_cap")
    assert found
    assert found[0].text.endswith(" at once, cap 50 g")


def test_what_is_weighed_in_at_once_is_no_charge_step(good: list[Event]) -> None:
    first = next(e.t for e in good if isinstance(e, Reading)) + 1.0
    weighed_in = add(
        good,
        Mark(t=first, kind=MarkKind.STAGE_BEGUN, text=Stage.WEIGH_IN.value),
        Mark(t=first + 2.0, kind=MarkKind.STEP_BEGUN),
        Mark(t=first + 5.0, kind=MarkKind.STEP_ENDED, mass_kg=1.9),
        Mark(t=first + 8.0, kind=MarkKind.STEP_BEGUN),
        Mark(t=first + 9.0, kind=MarkKind.STEP_ENDED, mass_kg=0.2),
        Mark(t=first + 12.0, kind=MarkKind.STAGE_BEGUN, text=Stage.RUN_UP.value),
    )
    assert not findings(weighed_in, "step_over_cap")
    # Later steps were made when the session without a weigh-in had settled; only the first count.
    early = [f.text for f in findings(weighed_in, "next_step_too_early")]
    assert not [text for text in early if "after step 1," in text or "after step 2," in text]
    said = findings(weighed_in, "frequency_not_held")
    assert not any(f.text.startswith("step 1 ") for f in said)
    charged = [
        e for e in weighed_in if not (isinstance(e, Mark) and e.kind is MarkKind.STAGE_BEGUN)
    ]
    assert findings(charged, "step_over_cap"), "the same amount as a charge step is one too large"


def test_a_step_before_the_last_has_settled_is_found(good: list[Event]) -> None:
    step = next(e for e in good if isinstance(e, Mark) and e.kind is MarkKind.STEP_ENDED)
    hasty = add(
        good,
        Mark(t=step.t + 20.0, kind=MarkKind.STEP_BEGUN),
        Mark(t=step.t + 25.0, kind=MarkKind.STEP_ENDED, mass_kg=0.02),
    )
    found = findings(hasty, "next_step_too_early")
    assert "begun 2" in found[0].text
    assert "which had not settled" in found[0].text


def test_a_frequency_that_was_not_held_is_found(good: list[Event]) -> None:
    higher = with_job(good, lambda j: replace(j, hold=replace(j.hold, required_hz=90.0)))
    found = findings(higher, "frequency_not_held")
    assert any(
        "recorded as settled while 90 Hz was not held (it was 72 Hz)" in f.text for f in found
    )
    assert any("step 1 while 90 Hz was not held" in f.text for f in found)
    assert any("ended as complete" in f.text for f in found)
    fixed = with_job(good, lambda j: replace(j, hold=replace(j.hold, required_hz=None)))
    assert findings(fixed, "frequency_not_held") == []


def test_a_charge_outside_its_band_is_found(good: list[Event]) -> None:
    other = with_job(good, lambda j: replace(j, target=replace(j.target, subcooling_k=9.0)))
    (found,) = findings(other, "out_of_tolerance")
    assert found.text.endswith(": fail")
    given_up = [*other[:-1], replace(other[-1], outcome=Outcome.ABANDONED)]  # type: ignore[arg-type]
    assert findings(given_up, "out_of_tolerance") == []


def test_coarse_instruments_are_found(good: list[Event]) -> None:
    (found,) = findings(with_channels(good, accuracy=None), "too_coarse")
    assert "no accuracy is declared" in found.text
    (found,) = findings(
        with_channels(good, accuracy=Accuracy(absolute_si=5.0, relative=0.02)), "too_coarse"
    )
    assert found.text.startswith("uncertainty ")


def test_a_step_against_the_advice_needs_a_note(good: list[Event]) -> None:
    begun = Mark(t=60.0, kind=MarkKind.STEP_BEGUN)
    done = Mark(t=65.0, kind=MarkKind.STEP_ENDED, mass_kg=0.05)
    (found,) = findings(add(good, begun, done), "override_without_reason")
    assert found.text.startswith('step 1 added while the advice was "')
    note = Mark(t=90.0, kind=MarkKind.NOTE, text="hose purged, on the office's word")
    assert findings(add(good, begun, done, note), "override_without_reason") == []
    blank = replace(note, text="  ")
    assert len(findings(add(good, begun, done, blank), "override_without_reason")) == 1


def test_more_than_the_plate_takes_is_found(good: list[Event]) -> None:
    small = with_job(good, lambda j: replace(j, charge=replace(j.charge, plate_kg=2.0)))
    (found,) = findings(small, "over_plate")
    assert "after step" in found.text
    before = with_job(good, lambda j: replace(j, charge=replace(j.charge, weighed_in_kg=1.5)))
    assert findings(before, "over_plate") == []


def test_simulated_work_does_not_pass_as_field_work(good: list[Event]) -> None:
    (found,) = findings(good, "simulated_as_field", Policy())
    assert "is simulated" in found.text
    claimed = [replace(good[0], mode=SessionMode.FIELD), *good[1:]]  # type: ignore[arg-type]
    (found,) = findings(claimed, "simulated_as_field")
    assert found.text == "says field, but its source is a simulator"


@pytest.fixture
def fleet(tmp_path: Path, good: list[Event], session_file: Path) -> Path:
    folder = tmp_path / "fleet"
    (folder / "week").mkdir(parents=True)
    write_package(good, tmp_path / "good")
    make_archive(tmp_path / "good", folder / "good")
    make_archive(session_file, folder / "week" / "bakery.zip")
    make_archive(
        session_file,
        folder / "week" / "bakery-2.zip",
        supersedes=Supersedes(folder / "week" / "bakery.zip", "unsigned"),
    )
    (folder / "bad.zip").write_bytes(b"junk")
    return folder


@pytest.mark.parametrize("cores", [1, 2])
def test_a_folder_is_audited_and_a_bad_record_stops_nothing(fleet: Path, cores: int) -> None:
    paths = records_under([fleet])
    assert len(paths) == 4
    found = crossed(list(audit(paths, SCHOOL, cores)))
    by_name = {Path(item.record).name: item for item in found}
    assert [item.record for item in found] == sorted(item.record for item in found)
    assert [f.rule for f in by_name["bad.zip"].findings] == ["unreadable"]
    assert by_name["good"].findings == ()
    assert by_name["bakery.zip"].superseded_by.endswith("bakery-2.zip")
    table = as_table(found)
    assert "4 records, 3 without findings" in table
    rows = list(csv.DictReader(io.StringIO(as_csv(found))))
    assert {r["record"] for r in rows} == {item.record for item in found}
    assert [r["rule"] for r in rows if r["record"].endswith("good")] == [""]
    loaded = json.loads(as_json(found))
    assert [i["record"] for i in loaded] == [item.record for item in found]


def test_a_table_counts_what_a_record_has_too_many_of() -> None:
    findings = [Finding(rule="not_whole", text=f"row {n}: time goes back") for n in range(20)]
    findings.append(Finding(rule="over_plate", text="too much"))
    item = Audited(record="one.zip", findings=tuple(findings))
    table = as_table([item])
    lines = table.splitlines()
    assert sum("time goes back" in line for line in lines) == MOST_TOLD
    assert "  not_whole: and 14 more of these" in lines
    assert "  over_plate: too much" in lines
    assert "1 record, 0 without findings" in lines
    assert "  not_whole: 20" in lines
    assert as_csv([item]).count("time goes back") == 20


def test_copied_readings_are_found(tmp_path: Path, good: list[Event]) -> None:
    write_package(good, tmp_path / "one")
    write_package([replace(good[0], session_id="c" * 32), *good[1:]], tmp_path / "two")  # type: ignore[arg-type]
    found = crossed([audit_one(tmp_path / n, SCHOOL) for n in ("one", "two")])
    assert [[f.rule for f in item.findings] for item in found] == [["readings_copied"]] * 2


def test_who_supersedes_does_not_depend_on_which_record_was_done_first() -> None:
    old = Audited(record="a.zip", session_id="1", sealed_as="aa")
    both = [Audited(record=n, session_id="1", supersedes="aa") for n in ("b.zip", "c.zip")]
    other = Audited(record="d.zip", session_id="2", supersedes="aa")  # claims what is not its own
    for done in permutations([old, *both, other]):
        assert [item.superseded_by for item in crossed(done)] == ["b.zip, c.zip", "", "", ""]


def test_sessions_without_a_reading_are_no_copies(tmp_path: Path, good: list[Event]) -> None:
    typed = [event for event in good if not isinstance(event, Reading)]
    write_package(typed, tmp_path / "one")
    write_package([replace(typed[0], session_id="c" * 32), *typed[1:]], tmp_path / "two")  # type: ignore[arg-type]
    found = crossed([audit_one(tmp_path / n, SCHOOL) for n in ("one", "two")])
    assert all(f.rule != "readings_copied" for item in found for f in item.findings)


def test_a_program_error_over_one_record_is_a_finding(
    tmp_path: Path, good: list[Event], monkeypatch: pytest.MonkeyPatch
) -> None:
    write_package(good, tmp_path / "one")

    def fails(*_: object) -> None:
        raise KeyError("nobody thought of it")

    monkeypatch.setattr("chargeassist.qa.audit.rescore_events", fails)
    (finding,) = audit_one(tmp_path / "one", SCHOOL).findings
    assert finding.rule == "unreadable"
    assert finding.text == "KeyError: 'nobody thought of it'"


def test_an_edited_record_is_found(tmp_path: Path, good: list[Event]) -> None:
    warmer = [
        replace(e, value=e.value + 2.0)
        if isinstance(e, Reading) and e.channel == "liquid_temperature"
        else e
        for e in good
    ]
    write_package(warmer, tmp_path / "p")
    rules = {f.rule for f in audit_one(tmp_path / "p", SCHOOL).findings}
    assert "verdicts_differ" in rules


def test_a_cell_cannot_be_a_formula(tmp_path: Path, good: list[Event]) -> None:
    named = with_job(good, lambda j: replace(j, name='=HYPERLINK("http://x")'))
    write_package(named, tmp_path / "p")
    rows = list(csv.DictReader(io.StringIO(as_csv([audit_one(tmp_path / "p", SCHOOL)]))))
    assert rows[0]["job"].startswith("'=")


def test_an_empty_folder_is_said(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="found none"):
        records_under([tmp_path])
    with pytest.raises(ConfigError, match="nothing is there"):
        records_under([tmp_path / "nothing"])


def test_every_rule_says_what_it_compares() -> None:
    for name, rule in RULES.items():
        assert rule.__name__ == name
        assert (rule.__doc__ or "").startswith("Find ")


def test_a_caution_nobody_acknowledged_is_found(good: list[Event]) -> None:
    assert findings(good, "cautions_unread") == []
    read = next(e for e in good if isinstance(e, Mark) and e.kind is MarkKind.CAUTION_READ)
    without = [e for e in good if e is not read]
    (found,) = findings(without, "cautions_unread")
    assert Hazard(read.text).label in found.text
    assert found.t is not None


def test_a_condition_that_was_gone_on_without_is_found(good: list[Event]) -> None:
    assert findings(good, "condition_waived") == []
    mark = Mark(t=100.0, kind=MarkKind.CONDITION_WAIVED, text="outdoor_low: the owner insists")
    (found,) = findings(add(good, mark), "condition_waived")
    assert "the owner insists" in found.text
    assert found.t == 100.0
