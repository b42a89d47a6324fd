"""The strings of services in a difference: those that run another way, those to verify."""

from __future__ import annotations

from cablewalk.continuity.verdict import Standing
from cablewalk.replay.change import Field as Column
from cablewalk.replay.configuration import ALIVE
from cablewalk.replay.wiring import NONE, StringLine
from cablewalk.reports.table_change import Section
from cablewalk.reports.table_compare import Difference
from cablewalk.reports.table_moment import Moment
from cablewalk.walk.courses import Course


def sort_strings(difference: Difference) -> None:
    """Sort the strings whose lines are made both times, of services that are alive both times."""
    wiring = difference.wiring
    before, after = difference.before, difference.after
    lanes = [_lanes(moment) for moment in (before, after)]
    disturbed = {
        change.item
        for event in after.account.trace.events[before.position : after.position]
        for change in event.changes
        if change.field is Column.DISTURBED and change.new
    }
    for number, string in enumerate(wiring.strings):
        lives = {moment.scene.views[string.service].life for moment in (before, after)}
        old, new = lanes[0].get(number, {}), lanes[1].get(number, {})
        if lives != {ALIVE} or not old or old.keys() != new.keys():
            continue
        place = _place_of_string(after, string)
        service = wiring.services[string.service]
        changed = [line for line in old if _steps(old[line]) != _steps(new[line])]
        if changed:
            words = [_over_words(difference, lane, changed) for lane in (old, new)]
            if words[0] == words[1]:
                words = [_pairs_words(difference, lane[changed[0]]) for lane in (old, new)]
            section: Section = "re-routed"
        elif number in disturbed and after.disturbed(number):
            words = [
                str(_standing(before, number)),
                f"{_standing(after, number)}, its joins disturbed",
            ]
            section = "disturbed"
        else:
            continue
        difference.put(
            section,
            place,
            (len(wiring.items), number),
            "string",
            string.id,
            service.label,
            (words[0], words[1]),
            (number,),
        )


def _place_of_string(moment: Moment, string: StringLine) -> int:
    """Return where the load of a string is, or where its first line ends; NONE for structure."""
    terminal = string.load[0].a_terminal if string.load else string.lines[0].b_terminal
    wiring = moment.scene.wiring
    return moment.place(wiring.terminals[terminal].owner) if terminal != NONE else NONE


def _lanes(moment: Moment) -> dict[int, dict[str, Course]]:
    """Return string to its conductors, by what each joins."""
    found: dict[int, dict[str, Course]] = {}
    for course in moment.courses:
        found.setdefault(course.string, {})[course.line] = course
    return found


def _steps(course: Course) -> frozenset[frozenset[int]]:
    """Return the halves and caps a course runs over, pair by pair."""
    return frozenset(frozenset(join[:2]) for step in course.joins for join in step)


def _standing(moment: Moment, string: int) -> Standing:
    service = moment.scene.wiring.strings[string].service
    position = moment.scene.wiring.services[service].strings.index(string)
    return moment.scene.views[service].strings[position]


def _over_words(difference: Difference, lane: dict[str, Course], lines: list[str]) -> str:
    harnesses = sorted(set[int]().union(*(lane[line].harnesses for line in lines)))
    return f"over {' '.join(difference.wiring.items[h].id for h in harnesses) or 'no harness'}"


def _pairs_words(difference: Difference, course: Course) -> str:
    items = difference.wiring.items
    pairs = (f"{items[step[0][0]].id}={items[step[0][1]].id}" for step in course.joins if step)
    return f"by {' '.join(pairs)}"
