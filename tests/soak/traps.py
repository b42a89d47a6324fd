"""What the mutations put in: texts, numbers, states, and which verbs act on what."""

from __future__ import annotations

TRAPS = (
    "on", "off", "yes", "no", "~", "null", "true", "6:30", "010", "1.10", "0x1F", "1e5", "1_000",
    ".inf", "-.inf", ".nan", "<<", "=", "!!python/object:os.system", "&a", "*a", "|", ">", "%TAG",
    "2026-11-25", "", " ", "- ", "? ", ": ", "#", "@", "`", "structure", "shell", "structure.x",
    "X.shell", "*", "X.*", "X.1-", "X.9-1", "X.1-2000", "a.b.c", "..", "-", "--", "1-2", "A to A",
    "\x1b[2J\x1b[31m", "\x1b]0;owned\x07", "\x9b31m", "\x07\x08\x7f", "\u202egnp.exe", "\u2028",
    "\ufeff", "\u200b", "e\u0301", "\U0001f9d1\u200d\U0001f680", "<script>alert(1)</script>",
    "<b>x</b>", "J1:p2", "a\\", '"', "'", "=cmd()", "+1", "@x", "|x|", "`x`", "[x](javascript:1)",
    "a\nb", "a\r\nb", "a\tb", "\x00", "{{x}}", "%s%n", "../../etc/passwd", "A" * 65, "\uff21",
    "\u0661", "é",
)  # fmt: skip
NUMBERS = (
    "0", "-0", "1", "-1", "2", "0.5", "1e-300", "1e300", "1e999", "9" * 30, "9" * 400, "999999",
    "1000000", "1000001", "500", "501", "2000", "2001", "32768", "4294967296", "0.1", "1/3", "1,5",
    "1.0", "01", "+3", "\u0661\u0662", "1e", "59", "60", "-0:30", "0:59", "0:60", "99999:59",
    "100000:00",
)  # fmt: skip
STATES = (
    "capped", "bare", "part_engaged", "unverified", "mated", "packed", "in_hand", "loose", "on",
    "restrained", "routed", "stowed", "pulled_aside", "fitted", "tethered", "held", "lost", "up",
    "fastened", "part_fastened", "released", "open", "removed", "off", "blocked", "tripped", "down",
    "unknown", "absent", "installed", "reduced", "unproven", "true", "false", "alive", "retired",
)  # fmt: skip
TABLES = (
    "interfaces", "places", "halves", "panels", "units", "switches", "covers", "zones", "feeds",
    "paths", "harnesses", "legs", "segments", "caps", "bags", "people", "services", "strings",
)  # fmt: skip
"""Keys whose value maps ids to things; what they hold is of that kind."""
ON: dict[str, tuple[str, ...]] = {
    "halves": ("mate", "engage", "seat", "lock", "demate", "park", "inspect"),
    "caps": ("fit_cap", "remove_cap", "tether", "pick_up", "take", "pack", "found"),
    "legs": (
        "mate", "engage", "seat", "lock", "demate", "park", "pick_up", "let_go", "pull_aside",
        "restore", "restrain", "stow", "take", "pack", "hand_over", "route", "found", "inspect",
    ),
    "harnesses": ("take", "pack", "route", "tie", "cut_tie"),
    "covers": ("release", "fasten", "open", "close", "remove_cover", "fit_cover", "found"),
    "switches": ("switch_off", "block", "unblock", "switch_on", "reset", "verify", "found"),
    "bags": ("carry", "leave", "inspect"),
    "units": ("install", "remove"),
    "panels": ("install", "remove"),
    "places": ("walk",),
    "services": ("verify", "expect", "retire"),
}  # fmt: skip
"""Kind to the verbs that may act on it."""
ONTO = {
    "mate": "halves", "engage": "halves", "seat": "halves", "park": "halves", "fit_cap": "halves",
    "pack": "bags", "hand_over": "people", "stow": "bags",
}  # fmt: skip
"""Verb to the kind of what it puts something on."""
STATED: dict[str, tuple[str, str | None]] = {
    "on": ("switches", None), "off": ("switches", None), "blocked": ("switches", None),
    "tripped": ("switches", None), "mated": ("legs", "halves"), "unverified": ("legs", "halves"),
    "part_engaged": ("legs", "halves"), "bare": ("halves", None), "fitted": ("caps", "halves"),
    "tethered": ("caps", "places"), "held": ("caps", "people"), "lost": ("caps", None),
    "packed": ("harnesses", "bags"), "in_hand": ("legs", "people"), "loose": ("legs", "places"),
    "restrained": ("legs", "places"), "routed": ("legs", "places"), "stowed": ("legs", "bags"),
    "pulled_aside": ("legs", "places"), "part_fastened": ("covers", "1"),
    "released": ("covers", None), "open": ("covers", None), "removed": ("units", "places"),
    "absent": ("units", None), "bags": ("bags", "people"), "people": ("people", "places"),
    "cycles": ("halves", "7"), "unproven": ("services", "strings"),
    "established": ("services", None), "retired": ("services", None), "dark_min": ("services", "3"),
    "used_min": ("services", "3"),
}  # fmt: skip
"""Key under ``now`` to the kind it tells of and to the kind, or the number, that goes with it."""
