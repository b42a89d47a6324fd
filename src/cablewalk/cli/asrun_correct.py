"""``cablewalk asrun correct``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from cablewalk.cli.asrun_common import LOG, Fail, clean, moment, record_options
from cablewalk.cli.asrun_recorded import record
from cablewalk.cli.asrun_telling import Telling

if TYPE_CHECKING:
    from cablewalk.logbook.run import Run
    from cablewalk.walk.asrun_entry import Entry
    from cablewalk.walk.asrun_state import Tracked

OUTCOMES: Final = ("done", "differently", "part-engaged", "failed", "skipped")


def key_of(number: str) -> tuple[int, int]:
    """Return ``1.17`` as phase and serial; a bare serial is one of the first phase."""
    phase, dot, serial = number.rpartition(".")
    if serial.isdecimal() and len(serial) < 10 and (phase.isdecimal() if dot else not phase):
        return (int(phase[:9]) - 1 if dot else 0), int(serial)
    raise Fail(f"'{number}' is no number of an entry, such as 1.17")


@click.command("correct")
@LOG
@click.argument("number", metavar="ENTRY")
@click.option("--void", is_flag=True, help="It never happened.")
@click.option("--outcome", type=click.Choice(OUTCOMES), help="What the outcome was.")
@click.option("--action", metavar="TEXT", help="What was done.")
@click.option("--reads", metavar="TEXT", help="The note, or the entry's own reason, worded anew.")
@record_options
@click.pass_context
def command(
    context: click.Context,
    /,
    log: Path,
    number: str,
    void: bool,
    outcome: str | None,
    action: str | None,
    reads: str | None,
    **told: Any,
) -> None:
    """Correct an entry by an entry of its own; what is not given stays as it was, its time too.

    Both stay in the log. -m is why it is corrected, and stands beside what the entry says, in its
    own words or in those of --reads. Entries that the correction makes impossible are told as
    findings. What salvage could not prove is confirmed as it reads by a reason (-m) alone.

    \b
    Examples:
      cablewalk asrun correct outing-1.log 1.17 --pet 2:11 -m "read off the wrong clock"
      cablewalk asrun correct outing-1.log 1.18 --void -m "recorded twice"
      cablewalk asrun correct outing-1.log 1.19 --reads "pin 3 is dark" -m "was pin 3, not pin 2"
    """
    telling = Telling(**told)
    key = key_of(number)

    def draft(run: Run) -> list[Entry]:
        from cablewalk.logbook.amend import correction

        old = _as_recorded(run.tracked, key)
        said = telling.said(run.tracked, old.utc_s if old else None)
        changed = _changed(run.tracked, telling, outcome, key[0])
        changed |= _begun(run.tracked, telling, old, changed, key[0])
        changed |= _worded(old, telling, action, reads)
        confirms = any(entry.doubt and entry.key == key for entry in run.tracked.entries)
        if not (changed or void or confirms):
            raise Fail("say what was otherwise, or --void")
        return [correction(run.tracked, key, changed, said, void)]

    record(context, log, draft, telling.seen)


def _as_recorded(tracked: Tracked, key: tuple[int, int]) -> Entry | None:
    """Return the entry that is corrected, as it stands."""
    made = tracked.effective.corrected
    standing = (e for e in tracked.effective.entries if key in (e.key, *made.get(e.key, ())))
    return next(standing, None)


def _worded(
    old: Entry | None, telling: Telling, action: str | None, reads: str | None
) -> dict[str, Any]:
    """Return what was given of the words: the action, and its reason or the note."""
    from cablewalk.logbook.words import action_of

    changed: dict[str, Any] = {}
    if reads is not None:
        if not (words := clean(reads).strip()):
            raise Fail("--reads is empty: say how it is worded, or leave it out")
        if old is not None and old.kind not in ("action", "note"):
            raise Fail("--reads words a note, or the reason of an action")
        changed["reads"] = words
    if action is not None:
        own = changed.get("reads") or (old.text if old else "") or clean(telling.reason)
        changed["action"] = action_of(clean(action), own)
    return changed


def _begun(
    tracked: Tracked, telling: Telling, old: Entry | None, changed: dict[str, Any], phase: int
) -> dict[str, int]:
    """Return when it began, if that is otherwise.

    Where only its end is corrected, the beginning that was told stays: how long it took is noted.
    """
    if telling.began is not None:
        return {"began_s": moment(tracked, telling.began, None, phase)}
    if old is None:
        return {}
    over_s = changed.get("utc_s", old.utc_s)
    if telling.took is not None:
        return {"began_s": over_s - round(telling.took * 60)}
    if over_s != old.utc_s and old.began_s is not None and old.began_s <= over_s:
        from cablewalk.units import clock

        began = clock(old.pet_s - (old.utc_s - old.began_s))
        took = (over_s - old.began_s) / 60
        telling.note(
            f"it began at {began}, as was told before, so it took {took:g} min: where that is "
            "otherwise, give --began or --took too"
        )
    return {}


def _changed(tracked: Tracked, telling: Telling, outcome: str | None, phase: int) -> dict[str, Any]:
    """Return the other fields that were given."""
    changed: dict[str, Any] = {}
    if outcome is not None:
        changed["outcome"] = "done differently" if outcome == "differently" else outcome
    if telling.pet is not None or telling.utc is not None:
        changed["utc_s"] = moment(tracked, telling.pet, telling.utc, phase)
    if telling.who:
        changed["actors"] = telling.who
    for name, value in (
        ("witness", telling.witness or None),
        ("inspection", telling.inspection or None),
        ("lock_verified", telling.lock),
        ("cap_fitted", telling.cap),
    ):
        if value is not None:
            changed[name] = clean(value) if isinstance(value, str) else value
    return changed
