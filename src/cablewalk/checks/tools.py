"""Rules of single tools: where each is when it is used, and whether it comes back to a bag.

Tools are counted in the bags by name. An action says which it takes out, which it is done with
and which it puts back (``tools_out``, ``tools``, ``tools_back``). No machine stands behind them: a
tool that is not at hand stops no action, it is a finding.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cablewalk.checks.case import Case
from cablewalk.checks.rule import PRACTICE, Rule
from cablewalk.findings import Finding, Severity, nearest
from cablewalk.replay.configuration import Configuration
from cablewalk.replay.wiring import NONE
from cablewalk.schedule.tasks import Task

ERROR, WARNING = Severity.ERROR, Severity.WARNING
ACCOUNT = PRACTICE + ": tools and bags are inventoried at egress and at ingress"


@dataclass(slots=True)
class Out:
    """One tool out of its bag."""

    tool: str
    bag: str
    holder: int
    task: Task
    """The action that took it out."""
    told: bool = False


class _Ledger:
    """Follows every named tool through the replay."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.wiring = case.wiring
        self.inside: dict[tuple[int, str], int] = {}
        """(bag, tool) to how many are in it."""
        self.out: list[Out] = []
        for name, bag in case.baseline.bags.items():
            for tool, count in bag.tools.items():
                self.inside[self.wiring.item("bag", name), tool] = count
        self.names = sorted({tool for _, tool in self.inside})
        self.skipped: dict[str, str] = {}
        """Tool to the skipped step that should have moved it."""
        for refused in case.trace.refused:
            action = refused.task.action
            for tool in (*action.tools_out, *action.tools_back):
                step = refused.because_of or refused.task.step_id
                self.skipped.setdefault(tool, step)

    def run(self) -> Iterator[Finding]:
        """Yield the findings of both rules, in order of time."""
        ends = dict(_last_of_phases(self.case))
        for position, event, config in self.case.walk():
            action = event.task.action
            if event.begins:
                for tool, bag in action.tools_out.items():
                    yield from self._take(config, event.task, tool, bag)
                for tool in action.tools:
                    yield from self._use(config, event.task, tool)
            else:
                for tool, bag in action.tools_back.items():
                    yield from self._put_back(config, event.task, tool, bag)
            if position in ends:
                yield from self._still_out(ends[position])

    def _take(self, config: Configuration, task: Task, tool: str, bag: str) -> Iterator[Finding]:
        person = self.wiring.by_id[task.workers[0]]
        why = self._no_bag(config, person, bag)
        item = self.wiring.item("bag", bag)
        if not why and not self.inside.get((item, tool), 0):
            why = f"there is none in {bag}{self._whereabouts(config, tool)}"
        if why:
            yield self._not_there(task, tool, person, f"cannot take {tool} out of {bag}: {why}")
        else:
            self.inside[item, tool] -= 1
        # Told once: the work goes on as if it had been there.
        self.out.append(Out(tool, bag, person, task, told=bool(why)))

    def _use(self, config: Configuration, task: Task, tool: str) -> Iterator[Finding]:
        person = self.wiring.by_id[task.workers[0]]
        place = config.place_of(person)
        if any(o.tool == tool and config.place_of(o.holder) == place for o in self.out):
            return
        for (bag, name), count in self.inside.items():
            if name == tool and count and config.place_of(bag) == place:
                return
        text = f"works with {tool}, which is not at {self.case.id(place)}"
        yield self._not_there(task, tool, person, text + self._whereabouts(config, tool))

    def _put_back(
        self, config: Configuration, task: Task, tool: str, bag: str
    ) -> Iterator[Finding]:
        people = [self.wiring.by_id[name] for name in task.workers]
        place = config.place_of(people[0])
        why = self._no_bag(config, people[0], bag)
        near = [o for o in self.out if o.tool == tool and config.place_of(o.holder) == place]
        near.sort(key=lambda o: o.holder not in people)
        if not why and not near:
            why = f"nobody at {self.case.id(place)} has one{self._whereabouts(config, tool)}"
        if why:
            text = f"cannot put {tool} back in {bag}: {why}"
            yield self._not_there(task, tool, people[0], text)
            return
        self.out.remove(near[0])
        key = (self.wiring.item("bag", bag), tool)
        self.inside[key] = self.inside.get(key, 0) + 1

    def _no_bag(self, config: Configuration, person: int, bag: str) -> str:
        """Return why a bag is not at hand, or an empty text."""
        item = self.wiring.item("bag", bag)
        if item == NONE:
            return f"there is no bag {bag}"
        place, here = config.place_of(item), config.place_of(person)
        if place == here:
            return ""
        return f"{bag} is at {self.case.id(place)}, {self.case.id(person)} at {self.case.id(here)}"

    def _whereabouts(self, config: Configuration, tool: str) -> str:
        """Return where the tools of a name are, as an end of a sentence."""
        spots = [
            f"in {self.case.id(bag)} at {self.case.id(config.place_of(bag))}"
            for (bag, name), count in self.inside.items()
            if name == tool and count
        ]
        spots += [f"with {self.case.id(o.holder)}" for o in self.out if o.tool == tool]
        if spots:
            return "; it is " + ", ".join(dict.fromkeys(spots))
        if tool in self.names:
            return ""
        hint = nearest(tool, self.names)
        return "; no bag lists it" + (f" ({hint})" if hint else "")

    def _not_there(self, task: Task, tool: str, person: int, text: str) -> Finding:
        return Finding(
            "tool-not-at-hand",
            ERROR,
            task.address,
            f"{self.case.id(person)} {text}",
            expected="each tool in the hands of a worker there, or in a bag there",
            difference=f"{tool} would have to be brought first",
            way_out="bring it, or take it out of its bag first (tools_out: {TOOL: BAG})",
            step=task.step_id,
            items=(tool, self.case.id(person)),
            because_of=self.skipped.get(tool),
        )

    def _still_out(self, phase: int) -> Iterator[Finding]:
        name = self.case.trace.phases[phase].plan.procedure.procedure
        for one in self.out:
            if one.told:
                continue
            one.told = True
            person = self.case.id(one.holder)
            yield Finding(
                "tool-out-at-end",
                WARNING,
                one.task.address,
                f"{one.tool}, taken out of {one.bag} by {person}, is not put back by the end of "
                f"{name}",
                expected="every tool back in a bag at the end of the phase",
                difference=f"one {one.tool} is out of its bag, and nothing tells where it stays",
                way_out=f"tools_back: {{{one.tool}: {one.bag}}} at the last action with it",
                step=one.task.step_id,
                items=(one.tool, person),
                because_of=self.skipped.get(one.tool),
            )


def _last_of_phases(case: Case) -> Iterator[tuple[int, int]]:
    """Yield (position of its last event, phase)."""
    last: dict[int, int] = {}
    for position, event in enumerate(case.trace.events):
        last[event.task.phase] = position
    for phase, position in last.items():
        yield position, phase


def _found(case: Case, rule: str) -> Iterator[Finding]:
    actions = (event.task.action for event in case.trace.events)
    if any(a.tools or a.tools_out or a.tools_back for a in actions):
        yield from (f for f in _Ledger(case).run() if f.rule == rule)


def _not_at_hand(case: Case) -> Iterator[Finding]:
    return _found(case, "tool-not-at-hand")


def _out_at_end(case: Case) -> Iterator[Finding]:
    return _found(case, "tool-out-at-end")


_KIT = """
baseline:
  places: {hatch: {}}
  paths: {way: {between: bench hatch, length_m: 4}}
  bags: {kit: {ties: 0, tools: {pliers: 1}}}
  now: {bags: {kit: hatch}, people: {ada: hatch}}
"""

RULES = (
    Rule(
        "tool-not-at-hand",
        "A tool is used or packed where it is not",
        ERROR,
        ACCOUNT,
        "A worker who finds the tool missing at the worksite goes back for it, or does without.",
        "Take it out of its bag before ('tools_out'), or bring the bag. Tools are named at the "
        "action: 'tools'.",
        _not_at_hand,
        fires=_KIT + "steps: [[walk: bench, {demate: P1, tools: pliers}]]",
        silent=_KIT + "steps: [[{walk: bench, tools_out: {pliers: kit}}, "
        "{demate: P1, tools: pliers}]]",
    ),
    Rule(
        "tool-out-at-end",
        "A tool that was taken out is not put back",
        WARNING,
        ACCOUNT,
        "A tool that is missed at ingress drifts somewhere, or is missing at the next egress.",
        "Put it back in a bag before the phase ends ('tools_back').",
        _out_at_end,
        fires=_KIT + "steps: [[{wait: 1, tools_out: {pliers: kit}}]]",
        silent=_KIT + "steps: [[{wait: 1, tools_out: {pliers: kit}, tools_back: {pliers: kit}}]]",
    ),
)
