"""Rules told elsewhere: of reading documents, of a log against its plan, of circuits."""

from __future__ import annotations

from typing import Final

from cablewalk.checks.rule import LLIS_1619, Rule
from cablewalk.findings import Severity

DOCUMENT_RULES: Final = {
    "bad-value": "A value is not one that is possible there",
    "wrong-type": "A value is of another kind than is wanted there",
    "unknown-key": "A key has no meaning there",
    "missing-key": "A key that is needed is missing",
    "bad-key": "A key cannot be an id",
    "and-more": "There are more faults of the same sort than are told",
    "unknown-id": "An id names nothing, or something of another kind",
    "unknown-state": "An item cannot be in that state",
    "unknown-contact": "A half has no such contact",
    "unknown-terminal": "A unit has no such terminal",
    "duplicate-id": "An id stands for two things",
    "duplicate-key": "A key stands twice in one group",
    "in-two-places": "An item is said to be in two places",
    "strings-not-told-apart": "Two strings cannot be told apart by their ends",
    "needs-cycle": "Services need one another in a circle",
    "waits-for-itself": "Steps wait for one another in a circle",
    "no-minutes": "Nothing says how long an action takes",
    "no-gap": "Nothing says how long after the phase before a phase begins",
    "nobody": "Nobody is named to do an action",
    "cannot-mate": "Two halves said to be mated do not fit",
    "cannot-fit": "A cap does not fit the half it is said to be on",
    "cap-nowhere": "Nothing says where a loose cap is",
    "bag-nowhere": "Nothing says where a bag is",
    "person-nowhere": "Nothing says where an outside worker is",
    "two-caps": "A half has two caps of its own",
    "too-many-wires": "A half is wired to more terminals than it has contacts",
    "too-many-contacts": "The baseline has more contacts than can be replayed",
    "uneven-run": "A run joins ranges of different lengths",
    "foreign-run": "A run names a contact of another harness",
    "parking-half-wired": "A parking half has wiring",
    "bad-yaml": "The file is not YAML as it is read here",
    "wrong-document": "The file is a document of another kind",
    "not-a-document": "The file is no document",
    "several-documents": "The file holds several documents",
    "empty-file": "The file is empty",
    "unreadable": "The file cannot be read",
    "too-large": "The file is larger than is read",
    "too-deep": "The file is nested deeper than is read",
    "tag": "A value bears a tag of YAML",
    "alias": "A value is an anchor or an alias of YAML",
}
"""Rules of reading documents: id to what it says. All are errors, and none can be waived."""

LOG_RULES: Final = {
    "corrects-nothing": "An entry corrects one that stands before it in no log",
    "entry-lost": "An entry of the log is missing",
    "entry-unproved": "An entry was salvaged that no hash proves",
    "failed": "An action was tried and failed",
    "up-against-joins": "A service found up is handed over as down, for its joins say so",
    "string-not-handed-over": "A string found down is handed over as up, for its joins say so",
    "impossible-since-corrected": "An entry became impossible by the correction of an earlier one",
    "done-all-the-same": "Something is recorded as done that could not be done as the log stands",
    "found-otherwise": "Something was found otherwise than the log has it",
    "overlapping-entries": "Two entries are at work on one item at the same time",
}
"""Rules of an as-run log: id to what it says. None can be waived: they are told of the past."""

CIRCUIT_RULES: Final = {
    "short-circuit": ("A feed's high is joined to its own return", Severity.ERROR),
    "feeds-tied": ("Feeds are joined and not meant to be", Severity.ERROR),
    "feeds-in-series": ("The high of one feed is on the return of another", Severity.ERROR),
    "feed-driven-backwards": ("A feed takes current instead of giving it", Severity.ERROR),
    "load-shorted": ("Both ends of a load are on one net", Severity.ERROR),
    "reversed-load": ("A load is fed the wrong way round", Severity.ERROR),
    "no-convergence": ("Loads ask for more than their feed and wires can supply", Severity.ERROR),
    "floating-circuit": ("A load lies between nets that no feed refers to", Severity.WARNING),
    "zero-resistance-loop": ("Several ways without resistance: no division", Severity.WARNING),
}
"""Rules of the circuit solution: id to what it says, and how much that weighs."""

TIME_RULES: Final = {
    "phase-limit-exceeded": (
        "A phase is later than a limit of it: by likely estimates or in most samples (error), or "
        "at P90 (warning)",
        Severity.ERROR,
    ),
    "clock-overrun-likely": (
        "A clock that likely minutes keep is overrun in most samples (error), or in more than one "
        "of ten (warning)",
        Severity.ERROR,
    ),
    "unplanned-loss-likely": (
        "A service that nothing plans to lose goes down in most samples (error), or in more than "
        "one of ten (warning)",
        Severity.ERROR,
    ),
}
"""Rules of sampled minutes: id to what it says, and how much that weighs at most."""

ESTIMATE_RULES: Final = {
    "zone-too-cold": ("A zone is estimated to go below its limit", Severity.WARNING),
    "zone-may-be-too-cold": (
        "A heater is back later than its zone may reach its limit from the lower set point",
        Severity.WARNING,
    ),
    "zone-too-hot": ("A zone is estimated to go above its limit", Severity.WARNING),
    "past-limit-at-start": ("A zone starts beyond its limit", Severity.ERROR),
    "estimate-before-clock": (
        "A zone is estimated at its limit before the clock runs out",
        Severity.WARNING,
    ),
    "heater-not-listed": ("A heater is not among the services of its zone", Severity.ERROR),
    "limit-not-given": ("A zone has no limit to be judged against", Severity.NOTE),
    "biot-too-large": ("A zone's Biot number is too large for one temperature", Severity.WARNING),
    "zone-not-judged": ("Data of a zone are missing: its temperature is not judged", Severity.NOTE),
    "load-not-judged": ("Draws or limits are missing: not all loads are judged", Severity.NOTE),
    "feed-overloaded": ("A feed gives more than its limit", Severity.ERROR),
    "wire-overloaded": ("A conductor carries more than its derated current", Severity.ERROR),
    "contact-overloaded": ("A contact carries more than its rating", Severity.ERROR),
    "volts-low": ("A load gets less than its minimum volts", Severity.ERROR),
    "drop-large": ("The drop to a load is larger than allowed", Severity.ERROR),
    "no-spread": ("Every minute is given as one number: there is no spread", Severity.NOTE),
}
"""Rules of estimates ('zones', 'loads', 'spread'): id to what it says, and its usual weight."""

RULES: Final = (
    *(
        Rule(
            name,
            title,
            Severity.ERROR,
            "the document models ('cablewalk schema')",
            "A document that cannot be read as it was meant is not replayed.",
            "The message says what is expected there.",
            waivable=False,
        )
        for name, title in DOCUMENT_RULES.items()
    ),
    *(
        Rule(
            name,
            title,
            Severity.ERROR if name in ("entry-lost", "entry-unproved") else Severity.WARNING,
            LLIS_1619,
            "The log is right and the plan is not, or an entry is wrong: either must be known.",
            "The message says how to record it.",
            waivable=False,
        )
        for name, title in LOG_RULES.items()
    ),
    *(
        Rule(
            name,
            title,
            severity,
            "Kirchhoff's laws, on the resistances the baseline gives",
            "Currents and volts are worked out only of a circuit that has a solution.",
            "Correct the joins, or give the resistances and powers that are missing.",
            waivable=False,
        )
        for name, (title, severity) in CIRCUIT_RULES.items()
    ),
    *(
        Rule(
            name,
            title,
            severity,
            "the clock's or the limit's own source; P50 and P90: common practice, no source",
            "Minutes vary, and what likely ones keep, many days do not. What counts is the clock "
            "or the limit that was given.",
            "Reconnect earlier, shorten the work before it, leave some for another phase, or plan "
            "the loss; the message says by how much it is over.",
            waivable=False,
        )
        for name, (title, severity) in TIME_RULES.items()
    ),
    *(
        Rule(
            name,
            title,
            severity,
            "the limits and numbers of the baseline, each with its own source",
            "An estimate, not for go/no-go: a clock given by the programme outranks it.",
            "The message says what is missing, or which limit is passed and by how much.",
            waivable=False,
        )
        for name, (title, severity) in ESTIMATE_RULES.items()
    ),
)
