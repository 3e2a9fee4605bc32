from random import Random

import pytest

from chargeassist_adapters import retry as retry_module
from chargeassist_adapters.retry import Backoff


def test_delays_double_up_to_the_ceiling_and_begin_anew_after_success() -> None:
    retry = Backoff(0.5, 5.0)
    assert [retry.next_s() for _ in range(6)] == [0.5, 1.0, 2.0, 4.0, 5.0, 5.0]
    retry.reset()
    assert retry.next_s() == 0.5


def test_what_breaks_soon_after_it_was_made_is_not_tried_again_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    now = 100.0
    monkeypatch.setattr(retry_module, "steady_s", lambda: now)
    retry = Backoff(0.5, 5.0)
    delays = []
    for _ in range(5):
        retry.made()
        now += 1.0
        assert retry.broke_soon
        delays.append(retry.next_s())
        assert not retry.broke_soon, "until it is made again"
    assert delays == [0.5, 1.0, 2.0, 4.0, 5.0]
    retry.made()
    now += 10.0
    assert not retry.broke_soon
    assert retry.next_s() == 0.5


def test_jitter_is_bounded_and_comes_from_the_given_chance() -> None:
    delays = [Backoff(1.0, 1.0, jitter=0.2, random=Random(seed)).next_s() for seed in range(200)]
    assert all(0.8 <= d <= 1.2 for d in delays)
    assert max(delays) - min(delays) > 0.3
    again = Backoff(1.0, 1.0, jitter=0.2, random=Random(7)).next_s()
    assert again == pytest.approx(delays[7], abs=0.0)
