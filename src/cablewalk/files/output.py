"""Output: files written whole or not at all, and over nothing that was not to be lost."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

from cablewalk.files.wording import clipped

_READ: ContextVar[list[Path] | None] = ContextVar("read", default=None)
"""The files read within :func:`sparing_what_is_read`."""


class CannotWrite(Exception):
    """Nothing was written; the message is a sentence for the user."""


@contextmanager
def sparing_what_is_read() -> Iterator[None]:
    """Within it no file that was read is written over, not even by ``force``."""
    token = _READ.set([])
    try:
        yield
    finally:
        _READ.reset(token)


def note_read(name: str) -> None:
    """Remember a file as read, where what is read is to be spared."""
    read = _READ.get()
    if read is not None:
        read.append(Path(name).resolve())


def is_same_file(one: Path, other: Path) -> bool:
    """Return whether two names are one file, there or not, a hard link included."""
    if os.path.normcase(os.path.realpath(one)) == os.path.normcase(os.path.realpath(other)):
        return True
    try:
        return one.samefile(other)
    except (OSError, ValueError):
        return False


def write_text(path: str | os.PathLike[str], text: str, force: bool = False) -> None:
    """Write a file in UTF-8, as :func:`write_bytes` does."""
    try:
        raw = text.encode("utf-8")
    except UnicodeError as problem:
        raise _refused(os.fsdecode(path), problem) from problem
    write_bytes(path, raw, force)


def write_bytes(path: str | os.PathLike[str], raw: bytes, force: bool = False) -> None:
    """Write a file whole or not at all: beside it first, then renamed.

    Raises:
        CannotWrite: the file exists and ``force`` is not given, it is no ordinary file, it is
            one that was read and is spared, or the folder or disk refuses.
    """
    name = os.fsdecode(path)
    beside: Path | None = None
    try:
        target = Path(name).resolve()
        if target.exists() and not target.is_file():
            raise CannotWrite(f"'{clipped(name, 200)}' is no ordinary file: nothing was written")
        if any(is_same_file(target, path) for path in _READ.get() or ()):
            raise CannotWrite(
                f"'{clipped(name, 200)}' is one of the documents read and is never written over: "
                "choose another name"
            )
        import secrets  # slow, and few commands write files

        beside = target.parent / f".cablewalk-{secrets.token_hex(6)}"
        _write_through(beside, raw)
        if force:
            if target.exists():
                beside.chmod(target.stat().st_mode & 0o7777)
            beside.replace(target)
        else:
            _place_new(beside, target)
    except FileExistsError:
        raise CannotWrite(
            f"'{clipped(name, 200)}' exists already and was left as it is: "
            "choose another name, or ask to overwrite it"
        ) from None
    except (OSError, ValueError, RuntimeError) as error:
        raise _refused(name, error) from error
    finally:
        if beside is not None:
            _discard(beside)


def _refused(name: str, error: Exception) -> CannotWrite:
    reason = (getattr(error, "strerror", None) or str(error)).lower()
    return CannotWrite(
        f"'{clipped(name, 200)}' cannot be written: {clipped(reason, 200)}; nothing was changed"
    )


def _write_through(path: Path, raw: bytes) -> None:
    """Write a new file and make sure that it is on the disk."""
    with path.open("xb") as file:
        file.write(raw)
        file.flush()
        os.fsync(file.fileno())


def _place_new(beside: Path, target: Path) -> None:
    """Give the file its name unless that is taken, in one step where the disk can link."""
    try:
        target.hardlink_to(beside)
    except FileExistsError:
        raise
    except OSError:
        if target.exists():
            raise FileExistsError(target) from None
        beside.rename(target)


def _discard(path: Path) -> None:
    """Remove the file written beside, where it is still there and the folder allows."""
    try:
        path.unlink(missing_ok=True)
    except OSError:
        return


def make_folder(folder: Path) -> None:
    """Make a folder, and those above it, where they are not there.

    Raises:
        CannotWrite: the disk refuses, or a file has its name.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        reason = (problem.strerror or str(problem)).lower()
        raise CannotWrite(
            f"'{clipped(os.fsdecode(folder), 200)}' cannot be made: {reason}; nothing was written"
        ) from problem
