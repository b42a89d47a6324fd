"""The scenes: one a frame of the player, with all that is said beside the picture."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from cablewalk.book.deeds import action_words
from cablewalk.book.moves import marks_of
from cablewalk.book.places import Whereabouts
from cablewalk.book.running import Running, running_at
from cablewalk.continuity.services import State
from cablewalk.documents.procedure import Step
from cablewalk.drawings.beside import Line, changes_beside
from cablewalk.drawings.moments import Moment
from cablewalk.drawings.pictures import Album
from cablewalk.drawings.plate import Dress
from cablewalk.replay.configuration import ALIVE
from cablewalk.reports.fault import FindingRow
from cablewalk.reports.outage import OutageRow
from cablewalk.reports.standing import ShiftRow
from cablewalk.reports.step import ActionRow, ChangeRow, StepRow
from cablewalk.schedule.tasks import PlannedStep
from cablewalk.timeline.account import believed
from cablewalk.units import minutes, seconds
from cablewalk.walk.trace import Trace, View


@dataclass(slots=True)
class Scene:
    """What stands beside one frame."""

    number: int
    key: str
    """What a link to it says after ``#step=``."""
    title: str
    at_min: float
    step: StepRow | None = None
    document: Step | None = None
    lines: list[Line] = field(default_factory=list)
    """Before and after the work: what comes off and goes on."""
    actions: list[tuple[ActionRow, str, str]] = field(default_factory=list)
    """Each action with its words, as a worker reads them, and the place where it is done."""
    shifts: list[ShiftRow] = field(default_factory=list)
    touched: list[ChangeRow] = field(default_factory=list)
    running: list[Running] = field(default_factory=list)
    reduced: list[str] = field(default_factory=list)
    unproven: list[str] = field(default_factory=list)
    up: int = 0
    alive: int = 0
    findings: list[FindingRow] = field(default_factory=list)
    is_done: bool = True
    """False: the replay did not get to it, or no picture belongs to it."""

    @property
    def matters(self) -> bool:
        """Whether it changes an item or how a service stands."""
        return bool(self.touched or self.shifts) or self.step is None


@dataclass(slots=True)
class Reel:
    """All scenes with the dresses of their pictures."""

    scenes: list[Scene]
    dresses: list[Dress]
    """Of the steps only, in the order of the scenes between the first and the last."""

    @property
    def frames(self) -> dict[tuple[int, str], int]:
        """(number of the phase, step) to its frame."""
        return {
            (scene.step.phase_number, scene.step.id): scene.number
            for scene in self.scenes
            if scene.step is not None
        }


def reel_of(
    album: Album,
    steps: Sequence[StepRow],
    outages: Sequence[OutageRow],
    findings: Sequence[FindingRow],
    places: Whereabouts,
) -> Reel:
    """Return the scenes of a replay in the order in which its steps end.

    That order, for the picture shows how all stands when a step is over. A step without a
    picture of its own (it does nothing, or was not reached) follows the last one before its end.
    """
    trace = album.account.trace
    planned = {(s.phase_number, s.id): _planned(trace, s) for s in steps}
    marks = marks_of(trace.wiring)
    many = {step for step, count in Counter(row.id for row in steps).items() if count > 1}
    scenes = [_end_scene(album, album.every[0], 0, "before", outages)]
    dresses: list[Dress] = []
    for row, current, own in _in_order(album, steps):
        dress = album.steps[current]
        if not own:
            dress = {key: wear for key, wear in dress.items() if key[0] != "halo"}
        dresses.append(dress)
        key = f"{row.phase}/{row.id}" if row.id in many else row.id
        plan = planned[row.phase_number, row.id]
        scene = Scene(len(scenes), key, f"Step {row.id}", row.end_min, row, plan.document)
        scene.is_done = own
        for task, action in zip(plan.tasks, row.actions, strict=True):
            spots = (places.at.get(((task.phase, task.serial), p)) for p in task.workers)
            spot = " / ".join(dict.fromkeys(s for s in spots if s))
            scene.actions.append((action, " ".join(action_words(action, marks)), spot))
        scene.shifts = [shift for action in row.actions for shift in action.shifts]
        scene.touched = merged([change for action in row.actions for change in action.changes])
        scene.findings = [
            f for f in findings if f.phase_number == row.phase_number and f.step == row.id
        ]
        _stand(scene, album, album.every[current].views, outages)
        scenes.append(scene)
    scenes.append(_end_scene(album, album.last, len(scenes), "after", outages))
    return Reel(scenes, dresses)


def _planned(trace: Trace, row: StepRow) -> PlannedStep:
    plan = trace.phases[row.phase_number - 1].plan
    return next(step for step in plan.steps if step.id == row.id)


def _in_order(album: Album, steps: Sequence[StepRow]) -> list[tuple[StepRow, int, bool]]:
    """Return each step with the moment whose picture it has, and whether that is its own."""
    own = {(m.phase, m.step.id): n for n, m in enumerate(album.every) if m.step is not None}
    rows: list[tuple[StepRow, int, bool]] = []
    for row in steps:
        phase = row.phase_number - 1
        number = own.get((phase, row.id))
        if number is not None:
            rows.append((row, number, True))
            continue
        earlier = [
            n
            for n, m in enumerate(album.every)
            if (m.phase, m.time_s) <= (phase, seconds(row.end_min))
        ]
        rows.append((row, max(earlier, default=0), False))
    return sorted(rows, key=lambda r: (r[1], not r[2], r[0].phase_number, r[0].end_min))


def merged(changes: Sequence[ChangeRow]) -> list[ChangeRow]:
    """Return one change an item, from how it first stood to how it stands last."""
    found: dict[tuple[str, str], ChangeRow] = {}
    for change in changes:
        key = (change.kind, change.item)
        if key in found:
            change = change.model_copy(update={"before": found[key].before})
        found[key] = change
    return [change for change in found.values() if change.before != change.after]


def _end_scene(
    album: Album, moment: Moment, number: int, key: str, outages: Sequence[OutageRow]
) -> Scene:
    after = key == "after"
    scene = Scene(
        number, key, "As it will be left" if after else "As it is now", minutes(moment.time_s)
    )
    scene.lines = changes_beside(album.cast, album.every[0], album.last, after)
    _stand(scene, album, moment.views, outages)
    return scene


def _stand(scene: Scene, album: Album, views: Sequence[View], outages: Sequence[OutageRow]) -> None:
    """Write into a scene how the services stand."""
    services = album.cast.wiring.services
    views = believed(album.account, views, seconds(scene.at_min))
    down = {s.id for s, v in zip(services, views, strict=True) if v.state is State.DOWN}
    scene.running = running_at(outages, scene.at_min, down)
    for service, view in zip(services, views, strict=True):
        if view.life != ALIVE:
            continue
        scene.alive += 1
        if view.state is State.UP and not view.unproven:
            scene.up += 1
        if view.state is State.REDUCED:
            up = sum(str(standing) == "up" for standing in view.strings)
            scene.reduced.append(
                f"{service.id}: {up} of {len(service.strings)} strings up, {service.need} needed"
            )
        if view.unproven and view.state is not State.DOWN:
            scene.unproven.append(service.id)
