"""The smallest cases of what the property tests found; each says what the contract asks."""

from __future__ import annotations

from typing import Any

from cablewalk.continuity.live import Liveness
from cablewalk.continuity.services import Continuity
from cablewalk.documents.actions import Action
from cablewalk.documents.baseline import Baseline
from cablewalk.replay.act import attempt_action
from cablewalk.replay.attempt import Effect, Refusal
from cablewalk.replay.configuration import Configuration
from cablewalk.walk.run import Ground, ready

SOURCE = {"kind": "source", "volts": 28}


def ground(places: dict[str, Any], **more: Any) -> Ground:
    """Return a baseline of one place made ready; it has no errors."""
    made = ready(
        Baseline.model_validate(
            {
                "cablewalk": "1",
                "baseline": "found",
                "interfaces": {"i1": 1, "i2": 2},
                "places": {"here": places},
                "people": {"w": "outside"},
                **more,
            }
        )
    )
    assert not made.findings.has_errors, [f.sentence() for f in made.findings.items]
    return made


def attempt(made: Ground, config: Configuration, **verb: Any) -> Effect | Refusal:
    worker = made.wiring.by_id["w"]
    action = Action.model_validate(verb)
    return attempt_action(config, action, (worker,), 1, lambda service: False, {})


def standings(config: Configuration) -> dict[str, str]:
    continuity = Continuity(config)
    return {
        string.id: str(verdict.standing)
        for string, verdict in zip(config.wiring.strings, continuity.verdicts, strict=True)
    }


def test_anothers_high_on_the_return_is_foreign() -> None:
    """A load across the return only, wired high on it, is a terminal that does not belong."""
    made = ground(
        {
            "units": {"S": SOURCE, "L1": "load", "L2": "load"},
            "halves": {"JS": "i2 socket S.hi S.ret", "J1": "i2 socket L1.hi L1.ret",
                       "J2": "i2 socket - L2.hi"},
        },
        harnesses={"W": ["P1 i2 pin", "P2 i2 pin", "P3 i2 pin"]},
        services={
            "one": {"kind": "heater", "load": "L1", "feeds": "S"},
            "two": {"kind": "heater", "load": "L2", "feeds": "S"},
        },
        now={"mated": {"P1": "JS", "P2": "J1", "P3": "J2"}},
    )  # fmt: skip
    assert standings(made.config) == {"one": "down", "two": "down"}


def test_siblings_naming_one_path_are_not_two() -> None:
    """A path may not use an island a sibling names, though the string names it as well."""
    made = ground(
        {
            "units": {"S": SOURCE, "L": "load"},
            "halves": {"JS": "i2 socket S.hi S.ret", "JL": "i2 socket L.hi L.ret"},
        },
        harnesses={"W": ["P1 i2 pin", "P2 i2 pin"]},
        services={
            "heat": {
                "kind": "heater",
                "need": 1,
                "strings": {
                    "a": {"load": "L", "feeds": "S", "through": "P1"},
                    "b": {"load": "L", "feeds": "S", "through": "P2"},
                },
            }
        },
        now={"mated": {"P1": "JS", "P2": "JL"}},
    )
    assert standings(made.config) == {"heat.a": "down", "heat.b": "down"}


def test_a_unit_being_removed_may_still_tie() -> None:
    """What an action restores it restores at its end: a foreign feed is foreign till then."""
    made = ground(
        {
            "units": {"S1": SOURCE, "S2": SOURCE, "L": "load"},
            "halves": {"J1": "i2 socket S1.hi S1.ret", "J2": "i2 socket S2.hi S2.ret",
                       "JL": "i2 socket L.hi L.ret"},
        },
        harnesses={"W": ["P1 i2 pin", "P2 i2 pin", "P3 i2 pin"]},
        services={"heat": {"kind": "heater", "load": "L", "feeds": "S1"}},
        now={"mated": {"P1": "J1", "P2": "J2", "P3": "JL"}},
    )  # fmt: skip
    config = made.config.copy()
    assert standings(config) == {"heat": "down"}
    effect = attempt(made, config, remove="S2")
    assert isinstance(effect, Effect)
    config.apply(effect.begin)
    assert standings(config) == {"heat": "down"}
    config.apply(effect.end)
    assert standings(config) == {"heat": "up"}


def test_a_doubtful_short_leaves_no_reference() -> None:
    """Shorted believes doubtful joins too, and a shorted feed has no reference."""
    made = ground(
        {
            "units": {"S": SOURCE, "L": "load"},
            "halves": {"JS": "i2 socket S.hi S.ret", "JL": "i2 socket L.hi L.ret"},
        },
        harnesses={
            "W": {
                "legs": {"P1": "i2 pin", "P2": "i2 pin", "P3": "i2 socket"},
                "runs": ["P1.1 P2.1 P3.1", "P1.2 P2.2 P3.2"],
            },
            "V": {
                "legs": {"Q1": "i2 pin", "Q2": "i2 pin"},
                "runs": ["Q1.1 Q1.2"],
            },
        },
        now={"mated": {"P1": "JS", "P2": "JL"}, "part_engaged": {"Q1": "P3"}},
    )
    liveness = Liveness(made.config)
    assert liveness.at(made.wiring.by_id["P1"], 1) >= 0


def test_line_between_grounded_returns() -> None:
    """Both ends of the line are structure itself: made, and no endless recursion."""
    feeds = {"feeds": {"F1": {"volts": 28, "grounded": True}}}
    made = ground(
        {
            "units": {
                "S1": {"kind": "source", **feeds},
                "S2": {"kind": "source", "feeds": {"F2": {"volts": 28, "grounded": True}}},
            }
        },
        services={"bond": {"kind": "bonding", "lines": ["S1.ret to S2.ret"]}},
    )
    assert standings(made.config) == {"bond": "up"}


def test_tied_feeds_put_down_whatever_line_they_are_on() -> None:
    """A line that is no load's has no clean net either where two feeds are tied on it."""
    made = ground(
        {
            "units": {
                "S": SOURCE,
                "S2": {"kind": "source", "feeds": {"F2": {"volts": 28}}},
                "L": "load",
            },
            "halves": {
                "JS": "i2 socket S.hi S.ret",
                "JT": "i2 socket S2.hi S2.ret",
                "JL": "i2 socket L.hi L.ret",
            },
        },
        harnesses={
            "W": {
                "legs": {"P1": "i2 pin", "P2": "i2 pin", "P3": "i2 pin"},
                "runs": ["P1.1 P2.1 P3.1", "P1.2 P2.2 P3.2"],
            }
        },
        services={
            "heat": {"kind": "heater", "load": "L", "feeds": ["S", "F2"]},
            "sense": {"kind": "data", "lines": ["S.hi to L.hi"]},
        },
        now={"mated": {"P1": "JS", "P2": "JL", "P3": "JT"}},
    )
    assert standings(made.config) == {"heat": "down", "sense": "down"}


def test_pairs_exchanged_at_once_are_followed() -> None:
    """Found mated elsewhere, and that taken back: each half's partner is still known."""
    made = ground(
        {
            "units": {"S": SOURCE, "L": "load", "D": {"kind": "load", "terminals": "d"}},
            "halves": {"JL": "i1 socket L.hi", "JD": "i1 socket D.d"},
        },
        harnesses={"W1": ["P1 i1 pin", "P2 i1 pin"], "W2": ["Q1 i1 pin", "Q2 i1 pin"]},
        services={"heat": {"kind": "heater", "load": "L", "feeds": "S"}},
        now={"mated": {"P2": "JL", "Q1": "JD"}, "loose": {"P1": "here", "Q2": "here"}},
    )
    config = made.config.copy()
    continuity = Continuity(config)
    there = attempt(made, config, found={"P2": "mated JD"}, reason="seen")
    assert isinstance(there, Effect)
    for changes in (there.begin, there.end):
        config.apply(changes)
        continuity.update(changes)
    for changes in (there.end, there.begin):
        config.undo(changes)
        continuity.update([change.inverse for change in reversed(changes)])
    kept, fresh = continuity.components.joins, Continuity(config).components.joins
    assert (kept.mates, kept.sure) == (fresh.mates, fresh.sure)


def test_a_tied_segment_is_not_laid_elsewhere() -> None:
    """A segment tied to a path cannot be routed along another before the tie is cut."""
    made = ground(
        {"halves": {"J1": "i1 socket", "J2": "i1 socket"}},
        paths={
            "one": {"between": "here here", "length_m": 1, "tie_points": ["t"]},
            "two": {"between": "here here", "length_m": 1},
        },
        harnesses={"W": ["P1 i1 pin", "P2 i1 pin"]},
        now={
            "mated": {"P1": "J1", "P2": "J2"},
            "along": {"W.main": "one"},
            "ties": {"W.main": "t"},
        },
    )
    assert isinstance(attempt(made, made.config, route={"W.main": "two"}), Refusal)


def test_a_cap_found_elsewhere_leaves_its_half() -> None:
    """A cap found on another half is no longer on the one it was on."""
    made = ground(
        {"halves": {"J1": "i1 socket", "J2": "i1 socket"}},
        caps={"C": {"fits": "i1 socket"}},
        now={"fitted": {"C": "J1"}},
    )
    config = made.config.copy()
    effect = attempt(made, config, found={"C": "fitted J2"}, reason="seen")
    assert isinstance(effect, Effect)
    config.apply(effect.begin)
    config.apply(effect.end)
    assert config.state_name(made.wiring.by_id["J1"]) == "bare"


def test_what_is_under_a_closed_cover_stays() -> None:
    """Items under a closed cover cannot be touched: a leg cannot be taken out from beneath it."""
    made = ground(
        {
            "halves": {"J1": "i1 socket", "J2": "i1 socket"},
            "covers": {"K": {"fasteners": 2, "over_segments": "W.main"}},
        },
        harnesses={"W": ["P1 i1 pin", "P2 i1 pin"]},
        now={"mated": {"P1": "J1", "P2": "J2"}},
    )
    assert isinstance(attempt(made, made.config, pick_up="P1"), Refusal)
    assert isinstance(attempt(made, made.config, pull_aside="P1"), Refusal)


def test_a_leg_on_its_way_into_a_bag_is_not_mated() -> None:
    """While one worker stows a leg in a bag, another cannot mate the half at its end."""
    made = ground(
        {"halves": {"J1": "i1 socket"}},
        harnesses={"W": ["P1 i1 pin", "P2 i1 pin"]},
        bags=["B"],
        people={"w": "outside", "v": "outside"},
        now={"in_hand": {"P1": "w"}, "loose": {"P2": "here"}},
    )
    config = made.config.copy()
    stowing = attempt(made, config, stow={"P1": "B"})
    assert isinstance(stowing, Effect)
    config.apply(stowing.begin)
    action = Action.model_validate({"mate": {"P1": "J1"}})
    other = (made.wiring.by_id["v"],)
    assert isinstance(attempt_action(config, action, other, 2, lambda service: False, {}), Refusal)


def test_a_leg_stowed_in_a_bag_is_not_mated() -> None:
    """A bag cannot leave a place while a leg from it is mated, so a leg in it is not mated."""
    made = ground(
        {"halves": {"J1": "i1 socket"}},
        harnesses={"W": ["P1 i1 pin", "P2 i1 pin"]},
        bags=["B"],
        now={"stowed": {"P1": "B"}, "loose": {"P2": "here"}},
    )
    assert isinstance(attempt(made, made.config, mate={"P1": "J1"}), Refusal)


def _source(feed: str, **more: Any) -> dict[str, Any]:
    return {"kind": "source", "feeds": {feed: {"volts": 28, **more}}}


def _bus(sources: list[dict[str, Any]], string: dict[str, Any], **now: Any) -> Ground:
    """Return a load and these sources, all on one harness."""
    count = len(sources)
    halves = {f"J{n}": f"i2 socket S{n}.hi S{n}.ret" for n in range(count)}
    return ground(
        {
            "units": {"L": "load", **{f"S{n}": source for n, source in enumerate(sources)}},
            "switches": ["K1", "K2"],
            "halves": {"JL": "i2 socket L.hi L.ret", **halves},
        },
        harnesses={"W": ["PL i2 pin", *(f"P{n} i2 pin" for n in range(count))]},
        services={"heat": {"kind": "heater", "need": 1, "strings": {"a": {"load": "L", **string}}}},
        now={"mated": {"PL": "JL", **{f"P{n}": f"J{n}" for n in range(count)}}, **now},
    )


def test_every_two_feeds_must_be_parallel() -> None:
    """Two feeds each parallel with a third are a cross-tie still, if not with each other."""
    sources = [_source("F0"), *(_source(f"F{n}", parallel_with=["F0"]) for n in (1, 2))]
    made = _bus(sources, {"feeds": ["F0", "F1", "F2"]})
    assert standings(made.config) == {"heat.a": "down"}


def test_available_by_any_feed_its_switch_selects() -> None:
    """A cold string is available when one of the feeds that reach it comes up by its switch."""
    sources = [
        _source("F0", switches=["K1"]),
        _source("F1", switches=["K2"], parallel_with=["F0"]),
    ]
    string = {"feeds": ["F0", "F1"], "cold": True, "selected_by": "K2"}
    made = _bus(sources, string, off=["K1", "K2"])
    assert standings(made.config) == {"heat.a": "available"}


def test_a_leg_found_packed_is_mated_with_nothing() -> None:
    """A packed leg is not mated: what was found goes before what the model had."""
    made = ground(
        {"halves": {"J1": "i1 socket"}},
        harnesses={"W": ["P1 i1 pin", "P2 i1 pin"]},
        bags=["B"],
        now={"mated": {"P1": "J1"}, "loose": {"P2": "here"}},
    )
    config = made.config.copy()
    effect = attempt(made, config, found={"P1": "packed B"}, reason="seen")
    assert isinstance(effect, Effect)
    config.apply(effect.begin)
    config.apply(effect.end)
    for half in ("P1", "J1"):
        assert config.state_name(made.wiring.by_id[half]) == "bare"
