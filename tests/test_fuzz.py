"""The mutation fuzzer, for as long as the suite can wait: its soak run is ``tests.soak.fuzz``."""

from __future__ import annotations

from collections import Counter

import pytest
from soak.emit import document
from soak.judge import TooSlow, judge, limited_time
from soak.mutate import mutated
from soak.seeds import Seed, cases, demos
from soak.shrink import shrunk
from soak.words import any_text

SEED = 20_260
"""Of the suite's own inputs; the soak run has others."""
COUNT = 2_000
PARTS = 8


@pytest.mark.parametrize("part", range(PARTS))
def test_every_refusal_is_a_finding(part: int) -> None:
    outcomes: Counter[str] = Counter()
    failures = []
    for number in range(part * COUNT // PARTS, (part + 1) * COUNT // PARTS):
        name, raw = mutated(SEED, number)
        outcome, failure = judge(raw, number)
        outcomes[outcome] += 1
        if failure is not None:
            failures.append(f"input {number}, made from {name}: {failure.text}")
    assert not failures, "\n\n".join(failures[:3])
    # Mutants that are all refused at the door would test the door only.
    assert outcomes["replayed"] + outcomes["stopped"] > COUNT // PARTS // 10, outcomes
    assert outcomes["refused"] and outcomes["unusable"], outcomes


@pytest.mark.parametrize("seed", [*demos(), *cases()], ids=lambda seed: seed.name)
def test_what_it_starts_from_is_replayed(seed: Seed) -> None:
    raw = [document(data) for data in seed.documents]
    outcome, failure = judge(raw, 1)
    assert failure is None, failure.text
    told_apart = "common_ends_not_told_apart"  # its point is that nothing is replayed
    assert outcome == ("unusable" if seed.name == told_apart else "replayed")


def test_an_input_is_the_same_again() -> None:
    assert [mutated(1, n) for n in range(40)] == [mutated(1, n) for n in range(40)]
    assert mutated(1, 0) != mutated(2, 0)


def test_text_of_every_unicode_category_is_made() -> None:
    import random
    import unicodedata

    rng = random.Random(1)
    seen = {unicodedata.category(c) for _ in range(400) for c in any_text(rng)}
    assert seen == {
        *("Lu", "Ll", "Lt", "Lm", "Lo", "Mn", "Mc", "Me", "Nd", "Nl", "No", "Pc", "Pd", "Ps", "Pe"),
        *("Pi", "Pf", "Po", "Sm", "Sc", "Sk", "So", "Zs", "Zl", "Zp", "Cc", "Cf", "Cs", "Co", "Cn"),
    }


# -- the judge sees what it should see -------------------------------------------------------


def test_a_traceback_is_a_failure(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise KeyError("J1")

    monkeypatch.setattr("soak.judge.outages_report", broken)
    raw = [document(data) for data in demos()[1].documents]
    outcome, failure = judge(raw, 1)
    assert outcome == "failed"
    assert failure is not None
    assert failure.signature.startswith("KeyError at ")


def test_a_hang_is_a_failure() -> None:
    with pytest.raises(TooSlow), limited_time(0.05):
        while True:
            pass


def test_a_failing_input_gets_smaller(monkeypatch: pytest.MonkeyPatch) -> None:
    from cablewalk.timeline import account as module

    real = module.account

    def broken(baseline: object, *rest: object) -> object:
        if "LAMP1" in str(baseline):
            raise KeyError("LAMP1")
        return real(baseline, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr("soak.judge.account", broken)
    raw = [document(data) for data in demos()[1].documents]
    failure = judge(raw, 1)[1]
    assert failure is not None
    small = shrunk(raw, 1, failure.signature)
    assert b"LAMP1" in small[0]
    assert len(b"".join(small)) < len(b"".join(raw)) / 4
    again = judge(small, 1)[1]
    assert again is not None
    assert again.signature == failure.signature
