"""The command line: one file a command, imported only when the command is invoked."""

from __future__ import annotations

import atexit
import gc
import importlib
import os
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from types import ModuleType
from typing import Any, Final

import click

from cablewalk import __version__
from cablewalk.cli.console import UNTOLD
from cablewalk.cli.interrupt import interruptible, was_interrupted

INTERRUPTED: Final = 130
"""Exit code after Ctrl-C: 128 and the number of SIGINT, as shells have it."""

COMMANDS: Final[dict[str, tuple[str, str]]] = {
    "check": ("cablewalk.cli.check", "What is unsafe or unfinished, and how to put it right"),
    "replay": ("cablewalk.cli.replay", "Walk through the steps and see what each one does"),
    "outages": (
        "cablewalk.cli.outages",
        "What goes down, from when to when, and against which clock",
    ),
    "halt": ("cablewalk.cli.halt", "What happens if work stops, as each step is over"),
    "spread": ("cablewalk.cli.spread", "How sure the outages, clocks and finishes are"),
    "timeline": ("cablewalk.cli.timeline", "A picture: who does what when, and what is down"),
    "zones": ("cablewalk.cli.thermal", "How cold each thermal zone gets, by estimate"),
    "loads": ("cablewalk.cli.power", "Volts, amperes and margins of what carries power"),
    "trace": (
        "cablewalk.cli.trace",
        "Where does this contact go, what rides on it, what would demating it lose",
    ),
    "tables": (
        "cablewalk.cli.tables",
        "What is joined to what: before, after, and the difference",
    ),
    "draw": (
        "cablewalk.cli.draw",
        "Pictures: before, after, side by side, and after each step",
    ),
    "book": (
        "cablewalk.cli.book",
        "The briefing book in one file, and pages a worker can carry",
    ),
    "asrun": ("cablewalk.cli.asrun", "Track what is really done, live, and hand it on"),
    "machines": (
        "cablewalk.cli.machines",
        "The states of halves, legs, caps, covers, switches and others",
    ),
    "schema": ("cablewalk.cli.schema", "JSON Schema of a document or of a report"),
}
"""Command to the module that holds it, as ``command``, and to its line in the help."""


@contextmanager
def _inert() -> Iterator[None]:
    """Let no error's message, which repeats what was given, act on a terminal."""
    try:
        yield
    except click.ClickException as error:
        from cablewalk.files.wording import inert

        # Declared final, but read only as the error is shown.
        error.message = inert(error.message)  # type: ignore[misc]
        raise


class LazyGroup(click.Group):
    """A group that knows its commands by name and imports one only to run it or tell its help."""

    def __init__(self, table: Mapping[str, tuple[str, str]], **rest: Any) -> None:
        super().__init__(**rest)
        self.table = table

    def make_context(
        self,
        info_name: str | None,
        args: list[str],
        parent: click.Context | None = None,
        **extra: Any,
    ) -> click.Context:
        """Read the arguments; what is refused of them is told harmlessly."""
        with _inert():
            return super().make_context(info_name, args, parent, **extra)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; what it refuses is told harmlessly, what it reads is spared."""
        from cablewalk.files.output import sparing_what_is_read

        with _inert(), sparing_what_is_read():
            return super().invoke(ctx)

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of the commands, in the table's order."""
        return list(self.table)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, importing its module; None for a name that is not in the table."""
        if cmd_name not in self.table:
            return None
        found = importlib.import_module(self.table[cmd_name][0]).command
        assert isinstance(found, click.Command)
        return found

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command that the first argument names; for a near miss, say what is meant."""
        if args and args[0] not in self.table and not args[0].startswith("-"):
            import difflib

            close = difflib.get_close_matches(args[0], self.table, n=1)
            hint = f" Did you mean '{close[0]}'?" if close else ""
            ctx.fail(f"There is no command {args[0]!r}.{hint}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands from the table, without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in self.table.items()])


commands = LazyGroup(
    COMMANDS,
    name="cablewalk",
    help="""Plan, prove and brief the re-cabling of hardware that must not go dark.

    \b
    Example:
      cablewalk outages configs/outpost.yaml configs/outing-1.yaml

    Exit codes: 0 clean, 1 a finding of severity error, 2 bad usage or an unreadable document.
    """,
    context_settings={"help_option_names": ["-h", "--help"]},
)
click.version_option(__version__, prog_name="cablewalk")(commands)


_NAME_SHOWN: Final = 80

FEW_COLLECTIONS: Final = (400_000, 20, 50)
"""Thresholds of the garbage collector: a command's documents live as long as it does, and looking
through them again and again was a tenth of its time. 400,000 objects hold some 40 MB."""


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and exit; ``arguments`` are those of the process where not given."""
    try:
        code = _run(arguments)
        code = INTERRUPTED if was_interrupted() else code
    except (click.Abort, KeyboardInterrupt):
        code = INTERRUPTED
    except Exception:
        if not was_interrupted():
            raise
        code = INTERRUPTED
    sys.exit(code)


def _run(arguments: Sequence[str] | None) -> Any:
    """Run the command line and return its exit code."""
    gc.set_threshold(*FEW_COLLECTIONS)
    # The interpreter's last look for garbage would only free what the system takes back anyway.
    atexit.register(gc.freeze)
    spare_plugins()
    with interruptible():
        try:
            code = commands.main(arguments, prog_name="cablewalk", standalone_mode=False)
        except click.ClickException as error:
            code = error.exit_code
            with suppress(OSError):  # nobody can be told
                error.show()
        except OSError as error:
            code = UNTOLD
            with suppress(OSError):
                say_error(error)
    return code


def spare_plugins() -> None:
    """Keep pydantic from looking for plugins, and from importing what it would look with.

    What other packages hang into pydantic has no business in a check of safety. It imports its
    loader of plugins all the same, and with it ``importlib.metadata`` and ``email``, a twentieth
    of a command's time: a stand-in that knows none takes the loader's place. A pydantic that has
    no such module never meets the stand-in, and one that asks more of it gets the real one; both
    still find plugins disabled.
    """
    if os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__") != "__all__":
        return
    loader = ModuleType("pydantic.plugin._loader", "No plugins: cablewalk disables them.")

    def real(name: str) -> Any:
        if name.startswith("__"):  # what the import system asks of every module
            raise AttributeError(name)
        sys.modules.pop(loader.__name__, None)
        return getattr(importlib.import_module(loader.__name__), name)

    loader.get_plugins = tuple  # type: ignore[attr-defined]
    loader.__getattr__ = real  # type: ignore[method-assign]
    sys.modules.setdefault(loader.__name__, loader)


def say_error(error: OSError) -> None:
    """Tell what the system refused in one sentence."""
    reason = (error.strerror or str(error)).lower()
    name = os.fsdecode(error.filename) if error.filename is not None else "the output"
    shown = name if len(name) <= _NAME_SHOWN else f"{name[:_NAME_SHOWN]}…"
    click.echo(f"Error: {shown!r}: {reason}", err=True)
