"""Turns: established, retired, re-routed; and who only stood by."""

from __future__ import annotations

import pytest
import yaml
from small import LAMP, merged, outages, rules, run, text_of, words_at

from cablewalk.timeline.account import Account

SPARE = """
harnesses: {W3: [M1 p2 pin, M2 p2 socket]}
places:
  bench:
    halves: {K1: p2 socket SRC.hi SRC.ret, K2: p2 pin LAMP.hi LAMP.ret, K3: p2 pin FAN.hi FAN.ret}
    units: {FAN: load}
now: {loose: {M1: bench, M2: bench}}
"""
FAN = "{services: {fan: {kind: power, load: FAN, feeds: SRC}}, now: {mated: {M1: K1, M2: K3}}}"


def turned(result: Account) -> list[tuple[str, str, str | None]]:
    wiring = result.trace.wiring
    return [
        (wiring.services[t.service].id, t.kind, t.event.task.step_id if t.event else None)
        for t in result.turns
    ]


def by(result: Account) -> list[str]:
    return [result.trace.wiring.services[n].id for n in result.bystanders]


def spare(steps: str, more: str = "{}") -> Account:
    return run(steps, yaml.safe_dump(merged(text_of(SPARE), text_of(more))), LAMP)


SWAP = """
- {loses: light, do: [{switch_off: SW1}, {demate: P1}, {demate: P2}]}
- [{mate: {M1: J1}}]
- [{mate: {M2: J2}}, {switch_on: SW1}]
"""


def test_a_swap_of_harnesses_is_a_re_routing() -> None:
    result = spare(SWAP)
    assert [(name, kind) for name, kind, _ in turned(result)] == [("light", "re-routed")]
    assert result.turns[0].string is not None
    assert words_at(result, "s3") == "up unproven"
    assert by(result) == []


def test_back_over_the_same_conductors_is_none() -> None:
    steps = (
        "[{loses: light, do: [{switch_off: SW1}, {demate: P1}, {mate: {P1: J1}}, {switch_on: "
        "SW1}]}]"
    )
    result = spare(steps)
    assert turned(result) == []
    assert by(result) == ["light"]


def test_there_and_back_again_is_none() -> None:
    steps = SWAP + (
        "- {loses: light, do: [{switch_off: SW1}, {demate: M1}, {demate: M2}, {mate: "
        "{P1: J1}}, {mate: {P2: J2}}, {switch_on: SW1}]}"
    )
    assert turned(spare(steps)) == []


def test_only_switched_is_a_bystander() -> None:
    """The fan shares the feed of the lamp that is worked on."""
    steps = """
    - loses: [light, fan]
      do: [{switch_off: SW1}, {demate: P1}, {mate: {P1: J1}}, {switch_on: SW1}]
    """
    result = spare(steps, FAN)
    assert by(result) == ["light", "fan"]
    assert turned(result) == []


def test_one_that_stays_down_is_no_bystander() -> None:
    assert by(spare("[{loses: light, do: [{switch_off: SW1}]}]")) == []


def test_one_that_was_down_at_the_start_is_no_bystander() -> None:
    assert by(spare("[[{switch_on: SW1}]]", "{now: {on: [], off: [SW1]}}")) == []


def test_established_by_a_mate() -> None:
    more = "{services: {fan: {kind: power, load: FAN, feeds: SRC, begins: established}}}"
    result = spare("[[{wait: 1}], [{mate: {M1: K1}}, {mate: {M2: K3}}]]", more)
    assert turned(result) == [("fan", "established", "s2")]
    assert [words_at(result, at, "fan") for at in (None, "s1", "s2")] == [
        "awaited",
        "awaited",
        "up unproven",
    ]
    assert outages(result) == []


def test_established_once_and_lost_is_an_outage() -> None:
    more = "{services: {fan: {kind: power, load: FAN, feeds: SRC, begins: established}}}"
    steps = "[[{mate: {M1: K1}}, {mate: {M2: K3}}], [{demate: M2}]]"
    result = spare(steps, more)
    assert outages(result) == [("fan", 2, None)]
    assert "unplanned-loss" in rules(result)


def test_retired() -> None:
    steps = "[[{retire: light}], [{switch_off: SW1}, {demate: P1}]]"
    result = spare(steps)
    assert turned(result) == [("light", "retired", "s1")]
    assert outages(result) == []
    assert "unplanned-loss" not in rules(result)
    assert words_at(result, "s2") == "retired"


def test_retired_before_it_was_established() -> None:
    more = "{services: {fan: {kind: power, load: FAN, feeds: SRC, begins: established}}}"
    result = spare("[[{retire: fan}], [{mate: {M1: K1}}, {mate: {M2: K3}}]]", more)
    assert turned(result) == [("fan", "retired", "s1")]
    assert words_at(result, "s2", "fan") == "retired"


@pytest.mark.parametrize("life", ["established", "retired"])
def test_as_the_baseline_says(life: str) -> None:
    more = f"""
    services: {{fan: {{kind: power, load: FAN, feeds: SRC, begins: established}}}}
    now: {{{life}: [fan], mated: {{M1: K1, M2: K3}}, loose: {{M1: "~", M2: "~"}}}}
    """
    result = spare("[[{wait: 1}]]", more)
    assert words_at(result, None, "fan") == ("up" if life == "established" else "retired")
    assert turned(result) == []


def test_a_service_waits_for_its_unit() -> None:
    more = """
    services: {fan: {kind: power, load: FAN, feeds: SRC, arrives_with: FAN}}
    now: {absent: [FAN], mated: {M1: K1, M2: K3}, loose: {M1: "~", M2: "~"}}
    """
    result = spare("[[{wait: 1}], [{install: FAN}]]", more)
    assert [words_at(result, at, "fan").split()[0] for at in ("s1", "s2")] == ["awaited", "up"]
    assert turned(result) == [("fan", "established", "s2")]
