"""Random small hardware, and random legal actions on it, for the property tests.

The hardware is mostly sensible (high on contact 1, return on 2, data on 3), so that services
come up at all, with swapped, spliced and missing conductors among it. Legal actions are found by
trying: of all the actions there are, those the engine does not refuse now.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, TypeVar

from hypothesis import HealthCheck, Phase, assume, settings
from hypothesis import strategies as st

from cablewalk.continuity.services import Continuity, State
from cablewalk.documents.actions import Action
from cablewalk.documents.baseline import Baseline
from cablewalk.replay.act import attempt_action
from cablewalk.replay.attempt import Effect, Refusal
from cablewalk.replay.change import Change
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.fit import cap_fits, misfit
from cablewalk.replay.wiring import Wiring
from cablewalk.walk.run import Ground, ready

T = TypeVar("T")
Draw = Callable[[st.SearchStrategy[Any]], Any]
"""What hypothesis gives to draw with."""


def runs(examples: int) -> settings:
    """Return settings for so many examples; big drawn hardware is slow, and that is no fault."""
    return settings(
        max_examples=examples,
        suppress_health_check=[
            HealthCheck.too_slow,
            HealthCheck.data_too_large,
            HealthCheck.filter_too_much,
        ],
        phases=(Phase.explicit, Phase.reuse, Phase.generate, Phase.shrink),
    )


class Dice:
    """Draws in few words; the smallest draw is the plainest hardware, so cases shrink to it."""

    def __init__(self, draw: Draw) -> None:
        self.draw = draw

    def chance(self, percent: int) -> bool:
        return self.count(0, 99) >= 100 - percent

    def count(self, low: int, high: int) -> int:
        number: int = self.draw(st.integers(low, high))
        return number

    def pick(self, options: Sequence[T]) -> T:
        return options[self.count(0, len(options) - 1)]

    def some(self, options: Sequence[T], at_least: int = 0) -> list[T]:
        """Return some of the options, in order, the first ones where too few were drawn."""
        chosen = [o for o in options if not self.chance(40)]
        return chosen if len(chosen) >= at_least else list(options[:at_least])


OTHER = {"pin": "socket", "socket": "pin"}


class _Maker:
    """Builds one baseline document, as the plain mapping a user's YAML gives."""

    def __init__(self, draw: Draw) -> None:
        self.dice = Dice(draw)
        self.grounded = self.dice.chance(25)
        self.units: dict[str, dict[str, dict[str, Any]]] = {"here": {}, "there": {}}
        self.panel_halves: dict[str, dict[str, Any]] = {"here": {}, "there": {}}
        self.harnesses: dict[str, Any] = {}
        self.caps: dict[str, Any] = {}
        self.services: dict[str, Any] = {}
        self.gender: dict[str, tuple[str, str]] = {}
        """Half to interface and gender."""
        self.at: dict[str, str] = {}
        """Fixed half to its place."""
        self.unit_of: dict[str, str] = {}
        """Half on a unit to that unit."""
        self.harness_of: dict[str, str] = {}
        self.feeds: list[str] = []
        self.loads: list[str] = []
        self.data: list[str] = []
        """Units with a terminal d."""
        self.bonds: list[str] = []
        self.cap_terminals: list[str] = []
        self.switches = [f"K{n + 1}" for n in range(self.dice.count(1, 3))]
        self.now: dict[str, Any] = {}

    def make(self) -> dict[str, Any]:
        self._units()
        self._bulkhead()
        self._harnesses()
        self._caps()
        for number in range(self.dice.count(1, 4)):
            self._service(f"V{number + 1}")
        self._now()
        places: dict[str, Any] = {
            place: {
                "units": self.units[place],
                "panels": {
                    f"N{place}": {
                        "bonded": not self.dice.chance(30),
                        "halves": self.panel_halves[place],
                    }
                },
            }
            for place in ("here", "there")
        }
        places["here"]["switches"] = self._switches()
        places["here"]["covers"] = self._covers()
        return {
            "cablewalk": "1",
            "baseline": "drawn",
            "interfaces": {"k3": 3, "m3": 3},
            "places": places,
            "paths": {
                "way": {"between": "here there", "length_m": 3, "tie_points": ["t1", "t2"]},
                "loop": {"between": "there here", "length_m": 5, "tie_points": ["t3"]},
            },
            "harnesses": self.harnesses,
            "caps": self.caps,
            "bags": ["bag"],
            "people": {"w1": "outside", "w2": "outside", "g": "ground", "arm": "vehicle"},
            "services": self.services,
            "now": self.now,
        }

    # -- fixed hardware ---------------------------------------------------------------

    def _half(self, name: str, unit: str | None, place: str, wired: list[str]) -> None:
        gender = "pin" if self.dice.chance(20) else "socket"
        interface = "m3" if self.dice.chance(6) else "k3"
        if self.dice.chance(8):
            wired = [wired[1], wired[0], *wired[2:]]
        half = {"interface": interface, "gender": gender, "wired": wired}
        if unit is not None and self.dice.chance(30):
            self.units[place][unit].setdefault("halves", {})[name] = half
            self.unit_of[name] = unit
        else:
            self.panel_halves[place][name] = half
        self.gender[name] = (interface, gender)
        self.at[name] = place

    def _unit(self, name: str, document: dict[str, Any], contacts: list[str]) -> None:
        place = "there" if self.dice.chance(15) else "here"
        self.units[place][name] = document
        document["bonded"] = not self.dice.chance(30)
        for number in range(2 if self.dice.chance(40) else 1):
            wired = [c if c == "-" else f"{name}.{c}" for c in contacts]
            self._half(f"J{name}{'ab'[number]}", name, place, wired)

    def _units(self) -> None:
        dice = self.dice
        for number in range(dice.count(2, 4)):
            name, feed = f"S{number + 1}", f"F{number + 1}"
            document: dict[str, Any] = {
                "volts": 28,
                "switches": [s for s in self.switches if dice.chance(40)],
                "grounded": self.grounded,
            }
            if self.feeds and dice.chance(35):
                document["parallel_with"] = dice.some(self.feeds, 1)
            kind = "store" if dice.chance(20) else "source"
            self._unit(
                name,
                {"kind": kind, "terminals": "hi ret d", "feeds": {feed: document}},
                ["hi", "ret", "d" if dice.chance(25) else "-"],
            )
            self.feeds.append(feed)
            self.data.append(name)
        for number in range(dice.count(0, 2)):
            self._converter(f"C{number + 1}", f"G{number + 1}")
        for number in range(dice.count(1, 3)):
            name = f"L{number + 1}"
            document = {"kind": "load", "terminals": "hi ret d"}
            if dice.chance(25):
                document["isolated"] = [["hi", "ret"], ["d"]]
            self._unit(name, document, ["hi", "ret", "d" if dice.chance(50) else "-"])
            self.loads.append(name)
            self.data.append(name)
        for number in range(dice.count(0, 2)):
            name = f"B{number + 1}"
            odd = dice.chance(20)
            self._unit(
                name,
                {"kind": "load", "terminals": "d e g"},
                ["d", "e", "g"] if odd else ["-", "g", "d"],
            )
            self.data.append(name)
            self.bonds.append(name)

    def _converter(self, name: str, feed: str) -> None:
        dice = self.dice
        document: dict[str, Any] = {
            "hi": "out_hi",
            "ret": "out_ret",
            "input": "in_hi in_ret",
            "volts": 12,
            "switches": [s for s in self.switches if dice.chance(30)],
            "grounded": self.grounded,
        }
        if dice.chance(40):
            document["accepts"] = dice.some(self.feeds, 1)
        unit: dict[str, Any] = {"kind": "converter", "feeds": {feed: document}}
        if dice.chance(40):
            unit["isolated"] = [["in_hi", "in_ret"], ["out_hi", "out_ret"]]
        place = "here"
        self.units[place][name] = unit
        self._half(f"J{name}i", name, place, [f"{name}.in_hi", f"{name}.in_ret"])
        self._half(f"J{name}o", name, place, [f"{name}.out_hi", f"{name}.out_ret"])
        self.feeds.append(feed)

    def _bulkhead(self) -> None:
        if self.dice.chance(40):
            self._half("T1", None, "here", ["-", "-", "-"])
            self._half("T2", None, "here", ["-", "-", "-"])
            self.panel_halves["here"]["T2"] = {
                "interface": self.gender["T2"][0],
                "gender": self.gender["T2"][1],
                "through": "T1",
            }
        if self.dice.chance(40):
            self.panel_halves["here"]["Q1"] = {
                "interface": "k3",
                "gender": "socket",
                "parking": True,
            }
            self.gender["Q1"] = ("k3", "socket")
            self.at["Q1"] = "here"

    def _switches(self) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for name in self.switches:
            found[name] = {"by_hand": self.dice.chance(40)}
            if self.dice.chance(10):
                found[name]["commanded_through"] = self.dice.pick(list(self.services))
        return found

    def _covers(self) -> dict[str, Any]:
        if not self.dice.chance(35):
            return {}
        here = [name for name, place in self.at.items() if place == "here"]
        segments = [
            f"{name}.{'main' if len(row['legs']) == 2 else next(iter(row['legs']))}"
            for name, row in self.harnesses.items()
        ]
        self.now["open"] = ["cover"]
        return {
            "cover": {
                "fasteners": self.dice.count(1, 3),
                "over": [self.dice.pick(here)],
                "over_segments": [self.dice.pick(segments)],
            }
        }

    # -- harnesses and caps -----------------------------------------------------------

    def _harnesses(self) -> None:
        dice = self.dice
        for number in range(dice.count(2, 4)):
            name = f"W{number + 1}"
            size = dice.pick([2, 2, 3, 4])
            legs: dict[str, Any] = {}
            for leg in range(size):
                key = f"P{number + 1}{'abcd'[leg]}"
                gender = "socket" if dice.chance(20) else "pin"
                interface = "m3" if dice.chance(6) else "k3"
                legs[key] = {"interface": interface, "gender": gender}
                self.gender[key] = (interface, gender)
                self.harness_of[key] = name
            ends = {key: [f"{key}.1", f"{key}.2", f"{key}.3"] for key in legs}
            if dice.chance(15):
                unit = dice.pick(self.loads)
                legs[f"H{number + 1}"] = {"hard_wired": unit}
                ends[unit] = [f"{unit}.hi", f"{unit}.ret", f"{unit}.d"]
            self.harnesses[name] = {"legs": legs, "runs": self._runs(legs, ends)}

    def _runs(self, legs: dict[str, Any], ends: dict[str, list[str]]) -> list[str]:
        dice = self.dice
        for key in ends:
            if dice.chance(8):
                a, b, c = ends[key]
                ends[key] = [b, a, c] if dice.chance(70) else [a, c, b]
        runs = []
        for contact in range(3):
            joined = [row[contact] for row in ends.values() if not dice.chance(5)]
            if len(joined) > 2 and dice.chance(30):
                runs += [f"{a} {b}" for a, b in pairwise(joined)]
            elif len(joined) >= 2:
                runs.append(" ".join(joined))
        halves = [key for key, leg in legs.items() if "interface" in leg]
        if dice.chance(50):
            runs.append(" ".join(f"{key}.shell" for key in halves))
        if dice.chance(8):
            key = dice.pick(halves)
            runs.append(f"{key}.{dice.pick(['1 2', '1 3', '2 shell'])}".replace(" ", f" {key}."))
        return runs

    def _caps(self) -> None:
        dice = self.dice
        capped: set[str] = set()
        for number in range(dice.count(0, 3)):
            half = dice.pick(list(self.gender))
            if half in capped or half == "Q1":
                continue
            capped.add(half)
            self.caps[f"A{number + 1}"] = {"on": half, "tethered": not dice.chance(30)}
        for name, shape in (("X1", {"joins": ["1 2"]}), ("X2", {"joins": ["2 shell"]})):
            if dice.chance(25):
                self._electrical(name, shape, capped)
        if dice.chance(35):
            terminals = ["a", "b"] if dice.chance(50) else ["b"]
            wired = {"3": "b"} if terminals == ["b"] else {"1": "a", "2": "b"}
            self._electrical("Z1", {"terminals": terminals, "wired": wired}, capped)
            self.cap_terminals += [f"Z1.{t}" for t in terminals]

    def _electrical(self, name: str, shape: dict[str, Any], capped: set[str]) -> None:
        half = self.dice.pick(list(self.gender))
        if half not in capped and half != "Q1" and self.dice.chance(50):
            capped.add(half)
            self.caps[name] = {"on": half, "tethered": True, **shape}
        else:
            gender = "pin" if self.dice.chance(40) else "socket"
            self.caps[name] = {"fits": f"k3 {gender}", **shape}

    # -- services ---------------------------------------------------------------------

    def _service(self, name: str) -> None:
        dice = self.dice
        shape = dice.pick(["heat", "heat", "two", "cold", "apart", "data", "data apart", "bond"])
        service: dict[str, Any] = {"kind": "any"}
        feeds = dice.some(self.feeds, 1) if dice.chance(25) else list(self.feeds)
        halves = list(self.harness_of)
        if shape == "heat":
            service |= {"load": dice.pick(self.loads), "feeds": feeds}
            if dice.chance(20):
                one, two = dice.pick(halves), dice.pick(halves)
                service["parallel"] = {
                    "hi": [f"{one}.1", f"{two}.1"],
                    "ret": [f"{one}.2", f"{two}.2"],
                    "need": dice.count(1, 2),
                }
            elif dice.chance(15):
                service["through"] = [dice.pick(halves)]
        elif shape in ("two", "cold"):
            one, two = dice.pick(self.loads), dice.pick(self.loads)
            if one == two:
                service |= {"load": one, "feeds": feeds}
            else:
                b: dict[str, Any] = {"load": two, "feeds": feeds}
                if shape == "cold":
                    b |= {"cold": True, "selected_by": dice.pick(self.switches)}
                service |= {
                    "need": dice.count(1, 2),
                    "strings": {"a": {"load": one, "feeds": feeds}, "b": b},
                }
        elif shape == "apart":
            load, one, two = dice.pick(self.loads), dice.pick(halves), dice.pick(halves)
            strings = {
                "a": {"load": load, "feeds": feeds, "through": [one]},
                "b": {"load": load, "feeds": feeds, "through": [two]},
            }
            service |= {"need": dice.count(1, 2), "strings": strings}
        elif shape == "bond" and self.bonds:
            service |= {"lines": [f"{dice.pick(self.bonds)}.g to structure"]}
        else:
            self._data(service, shape, halves)
        if self.cap_terminals and "strings" not in service and dice.chance(40):
            service["terminated_by"] = list(self.cap_terminals)
        if self.services and dice.chance(25):
            service["needs"] = dice.some(list(self.services), 1)
        if dice.chance(15):
            service["begins"] = "established"
        self.services[name] = service

    def _data(self, service: dict[str, Any], shape: str, halves: list[str]) -> None:
        dice = self.dice
        a, b = dice.pick(self.data), dice.pick(self.data)
        if a == b:
            a, b = self.data[0], self.data[1]
        ends = f"{a}.d to {b}.d"
        if dice.chance(10):
            ends = f"S1.hi to {self.loads[0]}.hi"
        one, two = dice.pick(halves), dice.pick(halves)
        if shape == "data apart":
            service |= {
                "need": dice.count(1, 2),
                "strings": {
                    "a": {"lines": [f"{ends} through {one}"]},
                    "b": {"lines": [f"{ends} through {two}"]},
                },
            }
        elif dice.chance(20):
            line = {
                "a": ends.split()[0],
                "b": ends.split()[2],
                "parallel": [f"{one}.3", f"{two}.3"],
            }
            service |= {"lines": [line | {"need": dice.count(1, 2)}]}
        elif dice.chance(20):
            service |= {"lines": [f"{ends} through {one} {two}"]}
        else:
            service |= {"lines": [ends]}

    # -- how it stands ----------------------------------------------------------------

    def _now(self) -> None:
        dice, now = self.dice, self.now
        for switch in self.switches:
            state = dice.pick(["on"] * 8 + ["off", "off", "blocked", "tripped", "unknown"])
            if state != "unknown":
                now.setdefault(state, []).append(switch)
        joined: dict[str, str] = {}
        for half, harness in self.harness_of.items():
            partners = [
                other
                for other, (interface, gender) in self.gender.items()
                if other not in joined
                and self.harness_of.get(other) != harness
                and (interface, OTHER[gender]) == self.gender[half]
            ]
            if half in joined or not partners or dice.chance(15):
                continue
            if not dice.chance(20):
                partners = self._likely(half, partners)
            other = dice.pick(partners)
            joined |= {half: other, other: half}
            state = dice.pick(["mated"] * 6 + ["unverified", "part_engaged"])
            now.setdefault(state, {})[half] = other
        self._legs(joined)
        for name, cap in self.caps.items():
            half = cap.get("on")
            if half is not None and half not in joined and dice.chance(50):
                continue
            if half is not None and half not in joined:
                now.setdefault("bare", []).append(half)
            if not cap.get("tethered", False):
                key, where = dice.pick([("held", "w1"), ("packed", "bag"), ("tethered", "here")])
                now.setdefault(key, {})[name] = where
        for unit in (u for rows in self.units.values() for u in rows):
            own = [h for h, owner in self.unit_of.items() if owner == unit]
            if dice.chance(8) and not any(h in joined for h in own):
                now.setdefault("absent", []).append(unit)
        now["people"] = {"w1": "here", "w2": dice.pick(["here", "there"]), "arm": "here"}
        now["bags"] = {"bag": "here"}

    def _likely(self, half: str, partners: list[str]) -> list[str]:
        """Prefer a source for the first leg of a harness, loads for the others."""
        first = half.endswith("a")
        supplies = ("JS", "JC1o", "JC2o") if first else ("JL", "JB", "JC1i", "JC2i", "T")
        return [p for p in partners if p.startswith(supplies)] or partners

    def _legs(self, joined: dict[str, str]) -> None:
        dice, now = self.dice, self.now
        for half in self.harness_of:
            other = joined.get(half)
            place = "here" if other is None else self.at.get(other, "here")
            states = ["loose", "routed", "restrained", "pulled_aside"]
            if other is None:
                states += ["packed", "packed", "stowed"]
            if place == "here":
                states.append("in_hand")
            if other in self.at and dice.chance(70):
                continue  # routed where its mate is, unless said otherwise
            state = dice.pick(states)
            where = {"packed": "bag", "in_hand": "w1"}.get(state, place)
            now.setdefault(state, {})[half] = where
        for name, row in self.harnesses.items():
            if dice.chance(20) and len(row["legs"]) == 2:
                now.setdefault("along", {})[f"{name}.main"] = ["way"]
                if dice.chance(50):
                    now.setdefault("ties", {})[f"{name}.main"] = ["t1"]


@dataclass(frozen=True)
class Bench:
    """A random baseline: the document as a user would write it, and made ready."""

    document: dict[str, Any]
    ground: Ground

    def __repr__(self) -> str:
        return json.dumps(_brief(self.document))

    def _repr_pretty_(self, printer: Any, cycle: bool) -> None:
        """Print, for hypothesis, the document only."""
        printer.text(repr(self))


def _brief(value: Any) -> Any:
    """Leave out what is empty, so that a failing case can be read."""
    if isinstance(value, dict):
        return {k: _brief(v) for k, v in value.items() if v not in ({}, [])}
    return value


@st.composite
def benches(draw: Draw) -> Bench:
    """Return a random baseline that loads without an error."""
    document = _Maker(draw).make()
    ground = ready(Baseline.model_validate(document))
    assume(not ground.findings.has_errors)
    return Bench(document, ground)


# -- actions --------------------------------------------------------------------------


def every_action(wiring: Wiring, found: bool) -> dict[str, list[Action]]:
    """Return all actions worth trying on this hardware, by verb."""
    made: dict[str, list[Action]] = {}

    def add(verb: str, argument: Any, **more: Any) -> None:
        made.setdefault(verb, []).append(Action.model_validate({verb: argument, **more}))

    def name(item: int) -> str:
        return wiring.items[item].id

    halves = wiring.ids("half")
    for a in (h for h in halves if wiring.items[h].role == "free"):
        for b in halves:
            if a != b and not misfit(wiring, a, b):
                verbs = ["mate", "engage", "seat"]
                for verb in ["park"] if wiring.items[b].role == "parking" else verbs:
                    add(verb, {name(a): name(b)})
                if found:
                    for state in ("mated", "part_engaged"):
                        add("found", {name(a): f"{state} {name(b)}"}, reason="seen")
    for half in halves:
        add("demate", name(half))
        add("lock", name(half))
        add("inspect", name(half))
        if found:
            add("found", {name(half): "bare"}, reason="seen")
    for cap in wiring.ids("cap"):
        for half in halves:
            if cap_fits(wiring, cap, half):
                add("fit_cap", {name(cap): name(half)})
                if found:
                    add("found", {name(cap): f"fitted {name(half)}"}, reason="seen")
        for verb in ("remove_cap", "tether", "pick_up", "take"):
            add(verb, name(cap))
        add("pack", {name(cap): "bag"})
        add("hand_over", {name(cap): "w2"})
        if found:
            add("found", {name(cap): "lost"}, reason="seen")
    for leg in wiring.ids("leg"):
        for verb in ("pick_up", "let_go", "restrain", "take", "pull_aside", "restore"):
            add(verb, name(leg))
        for where in ("here", "there", "bag"):
            add("stow", {name(leg): where})
        add("pack", {name(leg): "bag"})
        add("hand_over", {name(leg): "w2"})
        for paths in ("way", "loop", "way loop"):
            add("route", {name(leg): paths})
    for segment in wiring.ids("segment"):
        for point in ("t1", "t2", "t3"):
            add("tie", {name(segment): point})
            add("cut_tie", {name(segment): point})
    for switch in wiring.ids("switch"):
        for verb in ("switch_off", "switch_on", "block", "unblock", "reset"):
            add(verb, name(switch))
        add("verify", {name(switch): "on"})
        if found:
            add("found", {name(switch): "tripped"}, reason="seen")
    for cover in wiring.ids("cover"):
        for verb in ("open", "close", "remove_cover", "fit_cover", "release", "fasten"):
            add(verb, name(cover))
        add("release", {name(cover): 1})
        add("fasten", {name(cover): 1})
    for item in wiring.ids("unit", "panel"):
        add("install", name(item))
        add("remove", name(item))
    for where in ("here", "there", "arm"):
        add("walk", where)
    add("carry", "bag")
    add("leave", "bag")
    add("hand_over", {"bag": "w2"})
    return made


@dataclass(frozen=True)
class Happened:
    """An action that has just begun or ended, its changes applied."""

    action: Action
    begins: bool
    changes: tuple[Change, ...]
    effect: Effect


class Driver:
    """Does random legal actions on a configuration, several workers side by side."""

    def __init__(self, draw: Draw, ground: Ground, found: bool = False) -> None:
        self.dice = Dice(draw)
        self.config: Configuration = ground.config.copy()
        self.wiring = ground.wiring
        self.continuity = Continuity(self.config)
        self.actions = every_action(self.wiring, found)
        self.running: list[tuple[Action, tuple[int, ...], Effect]] = []
        self.serial = 0
        by = self.wiring.by_id
        self.crews = [(by["w1"],), (by["w2"],), (by["w1"], by["w2"]), (by["g"],)]

    def attempt(self, action: Action, crew: tuple[int, ...]) -> Effect | Refusal:
        """Try an action, changing nothing."""
        return attempt_action(
            self.config,
            action,
            crew,
            self.serial + 1,
            lambda n: self.continuity.states[n] is State.DOWN,
            {},
        )

    def legal(self, crew: tuple[int, ...]) -> dict[str, list[tuple[Action, Effect]]]:
        """Return every action this crew could begin now, by verb."""
        found: dict[str, list[tuple[Action, Effect]]] = {}
        for verb, actions in self.actions.items():
            for action in actions:
                outcome = self.attempt(action, crew)
                if isinstance(outcome, Effect):
                    found.setdefault(verb, []).append((action, outcome))
        return found

    def _begin(self) -> Happened | None:
        busy = {w for _action, crew, _effect in self.running for w in crew}
        crews = [crew for crew in self.crews if busy.isdisjoint(crew)]
        if not crews:
            return None
        crew = self.dice.pick(crews)
        legal = self.legal(crew)
        if not legal:
            return None
        action, effect = self.dice.pick(legal[self.dice.pick(list(legal))])
        self.serial += 1
        self.running.append((action, crew, effect))
        return self._apply(action, True, effect.begin, effect)

    def _end(self) -> Happened:
        action, _crew, effect = self.running.pop(self.dice.count(0, len(self.running) - 1))
        return self._apply(action, False, effect.end, effect)

    def _apply(
        self, action: Action, begins: bool, changes: tuple[Change, ...], effect: Effect
    ) -> Happened:
        self.config.apply(changes)
        self.continuity.update(changes)
        return Happened(action, begins, changes, effect)

    def events(self, count: int, overlap: bool = True) -> Iterator[Happened]:
        """Begin ``count`` actions and end them all; yield at the start of each and at its end.

        With ``overlap`` an action may begin while others run.
        """
        for _ in range(count):
            while self.running and (not overlap or self.dice.chance(50)):
                yield self._end()
            happened = self._begin()
            if happened is not None:
                yield happened
        while self.running:
            yield self._end()
