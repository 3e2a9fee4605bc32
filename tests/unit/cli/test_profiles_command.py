"""``chargeassist profiles`` as a shell sees it.

What the profiles say is checked against their sources in tests/reference.
"""

import pytest

from chargeassist.cli.main import main
from chargeassist.cli.paragraphs import WIDTH
from chargeassist.session.job.limits import shipped_profiles

NAMES = sorted(shipped_profiles())


def printed(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["profiles", *arguments]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out


def test_the_list_names_every_profile_with_its_title(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(capsys)
    flat = " ".join(out.split())
    for name, profile in shipped_profiles().items():
        assert f"\n{name}  " in f"\n{out}"
        assert f"{profile.title}: {len(profile.limits)} limit" in flat
    assert "0 limits; forbids judging by subcooling" in flat
    assert "chargeassist profiles NAME prints its limits." in flat
    assert flat.endswith("counts where neither the job file nor its profiles say otherwise.")


def test_what_counts_without_a_profile_can_be_read_too(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(capsys, "program-default")
    assert "tightness_fall  3 %" in out
    assert "no published source" in out
    # An address is one word: whoever copies it wants it whole.
    assert all(len(line) <= WIDTH for line in out.splitlines() if " " in line.strip())


@pytest.mark.parametrize("name", NAMES)
def test_a_profile_is_printed_with_all_that_stands_behind_each_limit(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    out = printed(capsys, name)
    profile = shipped_profiles()[name]
    head, *blocks = out.split("\n\n")
    assert head.startswith(f"{name}: {profile.title}")
    assert " ".join(profile.note.split()) in " ".join(head.split())
    *blocks, last = blocks
    assert last.strip() == f"fingerprint {profile.fingerprint[:16]}"
    assert len(blocks) == len(profile.limits)
    for block, limit in zip(blocks, profile.limits.values(), strict=True):
        flat = " ".join(block.split())
        assert flat.startswith(f"{limit.key.value} {limit.as_written}")
        assert f" source {limit.source}" in flat
        assert f" edition {limit.edition or 'none named'} " in flat
        assert f" authority {limit.authority.words} " in flat
        assert (f" read at {limit.address} " in flat) is bool(limit.address)
        memory = "yes: it was not read in the document" if limit.from_memory else "no"
        assert f" from memory {memory}" in flat
        assert ("the limit itself does not pass" in flat) is limit.strict
        assert limit.note in flat


def test_both_systems_of_units_stand_beside_the_value(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(capsys, "house-default")
    # 3 °F of difference is 1.7 K; 55 °F is 12.8 °C; 0.25 lb is 4 oz or 113 g. By hand.
    assert "subcooling_tolerance  3 °F (3.0 °F, 1.7 K)" in out
    assert "outdoor_low  55 °F (55.0 °F, 12.8 °C)" in out
    assert "step_cap  0.25 lb (4.0 oz, 113 g)" in out
    assert "airflow_low  300 cfm/ton; the limit itself does not pass" in out


def test_what_is_forbidden_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(capsys, "maker-liquid-temperature")
    assert "Forbids judging by subcooling; a job that does so is refused." in out


def test_an_unknown_profile_is_refused_with_the_nearest(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["profiles", "house-defalt"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "expected one of california-installer, " in err
    assert "got 'house-defalt' (did you mean 'house-default'?)" in err
    assert main(["profiles", "xyzzy"]) == 2
    assert "did you mean" not in capsys.readouterr().err
