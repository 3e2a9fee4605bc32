"""Every input of the fuzzers' corpus, without the fuzzer: no parser breaks its promise."""

from pathlib import Path

import pytest

from tests.fuzz.targets import SEEDS, TARGETS, make_corpus

CORPUS = Path(__file__).with_name("corpus")
INPUTS = sorted(path for path in CORPUS.rglob("*") if path.is_file())
MOST_BYTES = 200_000


@pytest.mark.parametrize("path", INPUTS, ids=lambda path: f"{path.parent.name}-{path.name}")
def test_no_input_of_the_corpus_breaks_a_promise(path: Path) -> None:
    TARGETS[path.parent.name](path.read_bytes())


@pytest.mark.parametrize("name", TARGETS)
def test_the_first_and_the_last_bytes_may_be_missing(name: str) -> None:
    for data in SEEDS[name]:
        for cut in range(0, len(data), max(1, len(data) // 16)):
            TARGETS[name](data[:cut])
            TARGETS[name](data[:1] + data[cut:])


def test_the_corpus_is_small_and_holds_the_seeds(tmp_path: Path) -> None:
    assert sum(path.stat().st_size for path in INPUTS) < MOST_BYTES
    assert {path.parent.name for path in INPUTS} == set(TARGETS)
    make_corpus(tmp_path)
    seeds = {(p.parent.name, p.name) for p in tmp_path.rglob("seed-*")}
    assert seeds <= {(p.parent.name, p.name) for p in INPUTS}
