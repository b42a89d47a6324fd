"""Loading: a file to a frozen model, or to findings that tell everything wrong with it."""

from __future__ import annotations

import os
from itertools import islice
from pathlib import Path
from typing import Any, Generic, NamedTuple, TypeVar

from pydantic import BaseModel, ValidationError

from cablewalk.documents.baseline import Baseline
from cablewalk.documents.procedure import Procedure
from cablewalk.files.nodes import gc_paused, parse
from cablewalk.files.output import note_read
from cablewalk.files.place import Source, digest
from cablewalk.files.refusals import MAX_BYTES, MAX_FAULTS
from cablewalk.files.wording import clipped
from cablewalk.findings import Address, Finding, Severity, nearest

M = TypeVar("M", bound=BaseModel)


class Loaded(NamedTuple, Generic[M]):
    """What came of a file. ``model`` is None where a finding is an error."""

    model: M | None
    findings: tuple[Finding, ...]
    source: Source


def load_baseline(path: str | os.PathLike[str], document: int = 0) -> Loaded[Baseline]:
    """Return the baseline in a file; never raises for what the file holds or is."""
    return _load(path, document, Baseline)


def load_procedure(path: str | os.PathLike[str], document: int) -> Loaded[Procedure]:
    """Return the procedure in a file; never raises for what the file holds or is."""
    return _load(path, document, Procedure)


def parse_baseline(raw: bytes, name: str, document: int = 0) -> Loaded[Baseline]:
    """Return the baseline in the bytes of a file called ``name``."""
    return _read(raw, name, document, Baseline)


def parse_procedure(raw: bytes, name: str, document: int) -> Loaded[Procedure]:
    """Return the procedure in the bytes of a file called ``name``."""
    return _read(raw, name, document, Procedure)


def _load(path: str | os.PathLike[str], document: int, model: type[M]) -> Loaded[M]:
    name = os.fsdecode(path)
    try:
        with Path(name).open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
        note_read(name)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        difference, way_out = _reached(name)
        finding = Finding(
            "unreadable",
            Severity.ERROR,
            Address(document),
            f"the file cannot be read: {reason.lower()}",
            expected="a YAML file",
            difference=difference,
            way_out=way_out,
        )
        return Loaded(None, (finding,), Source(name))
    return _read(raw, name, document, model)


def _reached(name: str) -> tuple[str, str]:
    """Return difference and way out for a file that cannot be opened: what is there instead."""
    way_out = "check the path and the rights to read it"
    try:
        path = Path(name)
        folder = path.absolute().parent
        if not name or path.exists():
            return "", way_out
        if not folder.is_dir():
            return f"the folder '{clipped(str(folder), 200)}' is not there either", way_out
        beside = [p.name for p in islice(folder.iterdir(), MAX_FAULTS) if p.suffix == path.suffix]
    except (OSError, ValueError):
        return "", way_out
    near = nearest(path.name, sorted(beside))
    return "", near if near.startswith("did you mean") else way_out


def _read(raw: bytes, name: str, document: int, model: type[M]) -> Loaded[M]:
    parsed = parse(raw, document)
    readable = parsed.data is not None
    source = Source(name, digest(raw), parsed.text, parsed.lines, readable)
    if parsed.data is None:
        return Loaded(None, _capped(parsed.findings, document), source)
    other = _other_kind(parsed.data, document, model)
    if other is not None:
        return Loaded(None, (other,), source)
    try:
        with gc_paused():
            return Loaded(model.model_validate(parsed.data), (), source)
    except ValidationError as error:
        from cablewalk.files.faults import findings_of  # only where something is wrong

        found = findings_of(error, model, parsed.data, document)
    return Loaded(None, _capped(found, document), source)


def _other_kind(data: dict[str, Any], document: int, model: type[BaseModel]) -> Finding | None:
    """Return a finding where the file is a document of the other kind."""
    wanted, other = "baseline", "procedure"
    if model is Procedure:
        wanted, other = other, wanted
    # A procedure has no key 'baseline', a baseline none 'procedure'.
    if wanted in data or other not in data:
        return None
    return Finding(
        "wrong-document",
        Severity.ERROR,
        Address(document, (other,)),
        f"this file is a {other}",
        expected=f"a {wanted} (a file with the key '{wanted}')",
        difference=f"it has the key '{other}', and none '{wanted}'",
        way_out="name the baseline first and the procedures after it",
    )


def _capped(found: list[Finding], document: int) -> tuple[Finding, ...]:
    """Return at most 200 findings, with one more that counts the rest."""
    if len(found) <= MAX_FAULTS:
        return tuple(found)
    rest = len(found) - MAX_FAULTS
    more = Finding(
        "and-more",
        Severity.NOTE,
        Address(document),
        f"and {rest:,} more findings in this file",
        expected=f"at most {MAX_FAULTS} findings to be told of a file",
        difference=f"{len(found):,} in all",
        way_out="correct those above first, then read the file again",
    )
    return (*found[:MAX_FAULTS], more)
