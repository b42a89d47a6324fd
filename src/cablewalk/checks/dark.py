"""The rules of what the baseline says is dark, judged by the timeline: registered here."""

from __future__ import annotations

from typing import Final

from cablewalk.checks.rule import Rule
from cablewalk.findings import Severity

ERROR, WARNING = Severity.ERROR, Severity.WARNING
_MODEL = "the baseline's own services, strings and feeds"
_DARK = """
baseline:
  services: {glow: {kind: power, load: LAMP, feeds: SRC, needs: light}}
  now: {dark_min: {light: 5}}
"""

RULES: Final = (
    Rule(
        "dark-unknown",
        "A clock runs on a service that has been down since nobody says when",
        WARNING,
        "the clock's own source, in the baseline",
        "The clock can only count from the start of the replay, so the margin told is too large.",
        "Give 'dark_min' under 'now'.",
        fires="baseline: {now: {on: ~, off: K1}, services: {light: {clock: "
        "{allowed_min: 60, source: invented}}}}",
        silent="baseline: {now: {on: ~, off: K1, dark_min: {light: 5}}, services: {light: {clock: "
        "{allowed_min: 60, source: invented}}}}",
    ),
    Rule(
        "dark-unexplained",
        "A service is said to be dark, and nothing in the baseline says why",
        WARNING,
        _MODEL,
        "It was found dark and nobody knows the cause, or the baseline is wrong. Until it is "
        "verified it is taken to be dark; one of 'found_down' whatever its joins.",
        "Find out why, and write it under 'now'; or take 'dark_min' or 'found_down' out.",
        fires="baseline: {now: {dark_min: {light: 5}}}",
        silent="baseline: {now: {on: ~, off: K1, dark_min: {light: 5}}}",
    ),
    Rule(
        "verified-in-vain",
        "A service is verified while one it needs is said to be dark",
        ERROR,
        _MODEL,
        "What needs a service that is dark is down with it: a test of it before that one is "
        "verified will fail, or proves nothing.",
        "Verify what is said to be dark (dark_min, found_down) first; or take it out of there.",
        fires=_DARK + "steps: [[verify: glow, verify: light]]",
        silent=_DARK + "steps: [[verify: light, verify: glow]]",
        waivable=False,
    ),
)
