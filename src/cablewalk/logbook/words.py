"""An action from one short line: ``mate P1 to J3``, or as a procedure writes it."""

from __future__ import annotations

import re
from difflib import get_close_matches
from typing import Any, Final

from cablewalk.documents.actions import VERBS, Action
from cablewalk.files.nodes import parse
from cablewalk.files.wording import clipped
from cablewalk.logbook.trouble import CannotLog

_BETWEEN: Final = frozenset({"to", "on", "onto", "in", "into", "at", "with", "along", "is", "from"})
"""Small words that may stand between; they say nothing."""
_PAIRS: Final = frozenset(
    {"mate", "engage", "seat", "park", "fit_cap", "pack", "hand_over", "stow", "tie", "cut_tie"}
)
_STATES: Final = frozenset({"found", "expect", "verify"})
FORMS: Final = (
    "'mate P1 to J3', 'demate P1', 'fit_cap C1 on P1', 'release C1 4', 'walk to gallery carrying', "
    "'route W1.main along A-B B-C', 'found C1 part_fastened 5', 'verify SERVICE', or as in a "
    "procedure: 'mate: {P1: J3}'"
)


def action_of(text: str, reason: str = "") -> Action:
    """Return the action a short line says; ``reason`` is put with it.

    Raises:
        CannotLog: the line says none.
    """
    written = text.strip()
    data = _yaml(written) if re.match(r"\{|[a-z_]+:(\s|$)", written) else _short(written)
    if reason and "reason" not in data:
        data["reason"] = reason
    if "found" in data and not data.get("reason"):
        raise CannotLog(f"'{clipped(written)}' needs a reason: say it with -m")
    try:
        return Action.model_validate(data)
    except ValueError as error:
        said = getattr(error, "errors", None)
        why = str(said(include_url=False)[0]["msg"] if said else error)
        raise CannotLog(
            f"'{clipped(written)}' is no action: "
            f"{clipped(why.removeprefix('Value error, '), 200)}; "
            f"write it like {FORMS}"
        ) from error


def _yaml(text: str) -> dict[str, Any]:
    body = text if text.startswith("{") else f"{{{text}}}"
    parsed = parse(body.encode("utf-8", "surrogatepass"), 0)
    if parsed.data is None:
        raise CannotLog(
            f"'{clipped(text)}' is no action: {parsed.findings[0].sentence()}; write it like "
            f"{FORMS}"
        )
    return dict(parsed.data)


def _short(text: str) -> dict[str, Any]:
    verb, *rest = text.split() or [""]
    verb = verb.lower().replace("-", "_")
    idle = _BETWEEN - {"at"} if verb in _STATES else _BETWEEN  # 'at' is a state of people and bags
    words = [word for word in rest if word.lower() not in idle]
    if verb in _STATES and len(words) == 1 and rest[-1].lower() == "on":
        words.append("on")  # the state of a switch
    if verb not in VERBS and words and f"{verb}_{words[0].lower()}" in VERBS:
        verb, words = f"{verb}_{words[0].lower()}", words[1:]
    if verb not in VERBS:
        near = get_close_matches(verb, VERBS, 1)
        hint = f"did you mean '{near[0]}'?" if near else f"the verbs are {', '.join(VERBS)}"
        raise CannotLog(f"'{clipped(verb)}' is no verb of an action: {hint}")
    return {verb: _argument(verb, words, text)}


def _argument(verb: str, words: list[str], text: str) -> Any:
    """Return what a verb acts on, in the form a procedure has it."""
    if verb == "walk":
        loaded = [w for w in words[1:] if w in ("carrying", "loaded")]
        if len(words) == 1 + len(loaded) and words:
            return {"to": words[0], "carrying": bool(loaded)}
    elif verb in _PAIRS:
        if len(words) == 2:
            return {words[0]: words[1]}
    elif verb == "route":
        if len(words) >= 2:
            return {words[0]: words[1:]}
    elif verb in ("release", "fasten"):
        if len(words) in (1, 2):
            return {words[0]: words[1] if words[1:] else None}
    elif verb in _STATES:
        if len(words) >= 2:
            return {words[0]: " ".join(words[1:])}
        if len(words) == 1 and verb == "verify":
            return words[0]
    elif len(words) == 1:
        return words[0]
    raise CannotLog(f"'{clipped(text)}' says too little or too much; write it like {FORMS}")
