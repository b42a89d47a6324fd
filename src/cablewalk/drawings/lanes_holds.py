"""GO calls and inhibits on a timeline."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from cablewalk.documents.inhibits import Inhibit
from cablewalk.drawings.lanes_ink import Sheet
from cablewalk.drawings.look import PAPER
from cablewalk.drawings.metrics import clipped, width_pt
from cablewalk.schedule.order import Timed

ROW: Final = 17.0
LANE: Final = 46.0
BAR: Final = 20.0

Span = tuple[float, float]
"""Where something begins and ends, from left to right."""


def draw_go(
    sheet: Sheet,
    timed: Timed,
    lane_y: Mapping[str, float],
    x_of: Callable[[float], float],
    until_s: int,
) -> dict[float, list[Span]]:
    """Draw a line from each GO call to the steps that wait for it, and the call's name.

    Returns:
        Middle of a lane to where its calls are written.
    """
    plan = timed.plan
    calls: dict[float, list[tuple[float, str]]] = {}
    """Height of the caller's lane to its calls: where they stand, and their names."""
    for step in plan.steps:
        for task in step.tasks:
            call = task.action.go_call
            if call is None or not step.workers or step.workers[0] not in lane_y:
                continue
            if timed.step_end_s[step.position] > until_s:
                continue
            at = x_of(timed.step_end_s[step.position])
            y = lane_y[step.workers[0]] + LANE - BAR / 2 - 4
            sheet.diamond(at, y, 6)
            calls.setdefault(y, []).append((at, call))
            for other in plan.steps:
                if call not in other.document.go or timed.step_start_s[other.position] > until_s:
                    continue
                begin = x_of(timed.step_start_s[other.position])
                for worker in other.workers:
                    if worker in lane_y:
                        to = lane_y[worker] + LANE - BAR - 4
                        sheet.path(f"M{at:.2f} {y:.2f}V{to - 6:.2f}L{begin:.2f} {to:.2f}", "go")
    taken: dict[float, list[Span]] = {}
    for y, lane in calls.items():
        for x, text in go_labels(lane):
            sheet.text(x, y + 3, text, "step")
            taken.setdefault(y, []).append((x - 9, x + width_pt(text, 8.5, bold=True)))
    return taken


def go_labels(calls: Sequence[tuple[float, str]]) -> list[tuple[float, str]]:
    """Return (x, text) of the labels of one lane's GO calls, given where each stands.

    Calls so close that their labels would run into one another share one.
    """
    groups: list[tuple[float, list[str]]] = []
    for at, call in sorted(calls, key=lambda row: row[0]):
        if groups:
            last, names = groups[-1]
            if at - 6 < last + 9 + width_pt(_go(names), 8.5, bold=True):
                groups[-1] = (at, [*names, call])
                continue
        groups.append((at, [call]))
    return [(at + 9, _go(names)) for at, names in groups]


def _go(names: Sequence[str]) -> str:
    return f"GO {', '.join(names)}"


def draw_holds(
    sheet: Sheet,
    timed: Timed,
    y: float,
    x_of: Callable[[float], float],
    left: float,
    right: float,
) -> float:
    """Draw each inhibit as a span with ends, from where it holds to its release."""
    inhibits = timed.plan.procedure.inhibits
    if not inhibits:
        return y
    sheet.text(left - 8, y + 10, "INHIBITS", "soft", "end")
    for inhibit in inhibits:
        begin, end = (x_of(t) for t in _span(timed, inhibit))
        middle = y + 7
        sheet.path(
            f"M{begin:.2f} {middle - 5:.2f}V{middle + 5:.2f}M{begin:.2f} {middle:.2f}"
            f"H{end:.2f}M{end:.2f} {middle - 5:.2f}V{middle + 5:.2f}",
            "hold",
        )
        text = f"{inhibit.id}: {inhibit.requires}"
        wide = width_pt(text, 9)
        if right - end > wide + 8:
            sheet.text(end + 6, middle + 3, text, "words")
        elif begin - left > wide + 8:
            sheet.text(begin - 6, middle + 3, text, "words", "end")
        else:  # over its own line, on paper of its own
            shown = clipped(text, max(40, end - begin - 24), 9)
            sheet.rect(begin + 10, middle - 6, width_pt(shown, 9) + 6, 12, "part", PAPER)
            sheet.text(begin + 13, middle + 3, shown, "words")
        y += ROW
    return y


def _span(timed: Timed, inhibit: Inhibit) -> tuple[int, int]:
    """Return from when to when an inhibit must hold. Mission elapsed seconds."""
    steps = {step.id: step.position for step in timed.plan.steps}
    if inhibit.set_by in steps:
        begin = timed.step_end_s[steps[inhibit.set_by]]
    else:
        protected = [timed.step_start_s[steps[s]] for s in inhibit.protects if s in steps]
        begin = min(protected, default=timed.start_s)
    end = timed.step_start_s[steps[inhibit.until]] if inhibit.until in steps else timed.end_s
    return begin, max(begin, end)
