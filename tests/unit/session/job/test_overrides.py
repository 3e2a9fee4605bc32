"""Limits a job sets itself: they count whatever they take the place of, and say who set them."""

import tomllib

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.limits import Authority, LimitKey
from chargeassist.model.usual_limits import USUAL
from chargeassist.session.job.jobfile import parse_job
from chargeassist.session.job.overrides import listed, set_here
from tests.unit.session.job.good_job import GOOD

SET = '\n[overrides]\nsource = "house rule 7"\n'


def test_it_takes_the_place_of_the_program_s_and_of_a_profile_s() -> None:
    job = parse_job(
        'profile = "evacuation-500-20"\n'
        + GOOD
        + f'{SET}settled_band = "0.2 K"\nvacuum_target = "300 micron"\n',
        "job.toml",
    )
    band, target = job.limit(LimitKey.SETTLED_BAND), job.limit(LimitKey.VACUUM_TARGET)
    assert band is not None
    assert target is not None
    # The one it is run by too, not only the one that is shown.
    assert (band.value_si, job.processing.settled_band_k) == (0.2, 0.2)
    assert target.as_written == "300 micron"  # though the profile's rank is higher
    assert target.citation == "set in this job: house rule 7 (rule of thumb)"
    assert {limit.key for limit in set_here(job.limits)} == {band.key, target.key}


def test_its_rank_is_what_the_job_says() -> None:
    text = f'{GOOD}{SET}authority = "equipment instructions"\nhand_pace = "45 s"\n'
    (limit,) = set_here(parse_job(text, "job.toml").limits)
    assert limit.authority is Authority.EQUIPMENT


@pytest.mark.parametrize(
    ("table", "complaint"),
    [
        ('\n[overrides]\nhand_pace = "45 s"\n', "overrides.source: expected who set"),
        (f'{SET}hand_pace = "45"\n', "overrides.hand_pace"),
        (f'{SET}hand_pase = "45 s"\n', "hand_pase"),
    ],
)
def test_what_cannot_be_is_refused(table: str, complaint: str) -> None:
    with pytest.raises(ConfigError, match=complaint):
        parse_job(GOOD + table, "job.toml")


def test_every_default_of_the_program_is_listed_as_it_could_be_written() -> None:
    lines = [line for line in listed() if " = " in line]
    assert len(lines) == len(USUAL)
    for line in lines:
        ((name, written),) = tomllib.loads(line.removeprefix("# ")).items()
        limit = USUAL[LimitKey(name)]
        assert written == limit.as_written
        assert limit.citation in line
    # Uncommented, all of them make a job that is run as without.
    table = SET + "\n".join(line.removeprefix("# ") for line in lines)
    job = parse_job(GOOD + table, "job.toml")
    found = {each.key: each.value_si for each in set_here(job.limits)}
    assert found.keys() == USUAL.keys()
    for key, value_si in found.items():
        assert value_si == pytest.approx(USUAL[key].value_si, rel=0.002), key  # an ounce is 28.35 g
