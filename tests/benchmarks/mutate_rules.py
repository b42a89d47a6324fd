"""Mutation run over the rules: how many small faults in them do their tests notice?

Two kinds of mutant. *Removed*: the registry without one rule, each rule in turn. *Altered*: one
comparison, connective, ``not`` or small number in ``cablewalk.checks`` changed. Each mutant runs
in a child forked from a parent that has imported everything else.

Run: ``python tests/benchmarks/mutate_rules.py [--every N] [--only MODULE]``
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import importlib.abc
import importlib.machinery
import io
import os
import signal
import sys
import time
import types
from collections.abc import Iterator, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
CHECKS = ROOT / "src" / "cablewalk" / "checks"
TESTS = (
    "test_checks_registry.py",
    "test_checks_inhibits.py",
    "test_checks_power.py",
    "test_checks_left.py",
    "test_checks_outcome.py",
    "test_checks_lookalikes.py",
    "test_checks_tools.py",
    "test_checks_undone.py",
    "test_checks_demos.py",
    "test_checks_failures.py",
    "test_checks_expression.py",
    "test_checks_command.py",
    "lessons",
)
SECONDS = 120
"""A mutant that takes longer counts as noticed: it hangs."""

_COMPARED = {
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE,
    ast.GtE: ast.Gt, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip


class _Mutator(ast.NodeTransformer):
    """Changes the ``target``-th place that can be changed; counts them all."""

    def __init__(self, target: int) -> None:
        self.target = target
        self.seen = 0
        self.told = ""

    def _here(self, node: ast.AST, what: str) -> bool:
        self.seen += 1
        if self.seen - 1 != self.target:
            return False
        self.told = f"line {getattr(node, 'lineno', 0)}: {what}"
        return True

    def visit_Compare(self, node: ast.Compare) -> ast.AST:
        self.generic_visit(node)
        for n, op in enumerate(node.ops):
            new = _COMPARED[type(op)]
            if self._here(node, f"{type(op).__name__} → {new.__name__}"):
                node.ops[n] = new()
        return node

    def visit_BoolOp(self, node: ast.BoolOp) -> ast.AST:
        self.generic_visit(node)
        if self._here(node, "and ↔ or"):
            node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        return node

    def visit_UnaryOp(self, node: ast.UnaryOp) -> ast.AST:
        self.generic_visit(node)
        if isinstance(node.op, ast.Not) and self._here(node, "not x → x"):
            return node.operand
        return node

    def visit_Constant(self, node: ast.Constant) -> ast.AST:
        if type(node.value) is int and node.value in (0, 1) and self._here(node, "0 ↔ 1"):
            return ast.copy_location(ast.Constant(1 - node.value), node)
        return node

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.AST:
        """Leave the annotations and defaults as they are."""
        node.body = [self.visit(part) for part in node.body]
        return node

    def visit_AnnAssign(self, node: ast.AnnAssign) -> ast.AST:
        if node.value is not None:
            node.value = self.visit(node.value)
        return node


def places(source: str) -> int:
    """Return how many places of a module can be changed."""
    mutator = _Mutator(-1)
    mutator.visit(ast.parse(source))
    return mutator.seen


class _Loader(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives one module from changed code."""

    def __init__(self, name: str, tree: ast.Module) -> None:
        self.name, self.tree = name, tree

    def find_spec(
        self, name: str, path: Sequence[str] | None, target: types.ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        return importlib.machinery.ModuleSpec(name, self) if name == self.name else None

    def exec_module(self, module: types.ModuleType) -> None:
        exec(compile(self.tree, self.name, "exec"), module.__dict__)


def noticed(name: str, target: int) -> tuple[bool, str]:
    """Return whether the tests fail with one place changed, and what was changed."""
    mutator = _Mutator(target)
    tree = ast.parse((CHECKS / f"{name}.py").read_text(encoding="utf-8"))
    tree = ast.fix_missing_locations(mutator.visit(tree))

    def prepare() -> None:
        sys.meta_path.insert(0, _Loader(f"cablewalk.checks.{name}", tree))

    return _fails(prepare), mutator.told


def noticed_without(rule: str) -> bool:
    """Return whether the tests fail without a rule."""

    def prepare() -> None:
        from cablewalk.checks.registry import JUDGED, RULES

        if RULES[rule].judge is None:  # the replay finds it: unregistered, check leaves it out
            del RULES[rule], JUDGED[rule]
        else:  # it stays explained and its example stays tested; only its judging is gone
            object.__setattr__(RULES[rule], "judge", None)

    return _fails(prepare)


def _fails(prepare: object) -> bool:
    """Return whether the tests fail in a child in which ``prepare`` was called first."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            signal.alarm(SECONDS)
            with (
                contextlib.redirect_stdout(io.StringIO()),
                contextlib.redirect_stderr(io.StringIO()),
            ):
                prepare()  # type: ignore[operator]
                import pytest

                files = [str(ROOT / "tests" / test) for test in TESTS]
                code = int(
                    pytest.main(["-x", "-q", "--assert=plain", "-p", "no:cacheprovider", *files])
                )
        except BaseException:
            code = 1
        finally:
            os._exit(0 if code == 0 else 1)
    _, status = os.waitpid(child, 0)
    return status != 0


def mutants(every: int, only: str) -> Iterator[tuple[str, int]]:
    """Yield (module, place) of every ``every``-th mutant."""
    count = 0
    for path in sorted(CHECKS.glob("*.py")):
        if path.stem in ("__init__", "example", "rule") or (only and path.stem != only):
            continue
        for target in range(places(path.read_text(encoding="utf-8"))):
            if count % every == 0:
                yield path.stem, target
            count += 1


def main() -> None:
    """Run the mutants and print the score."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1, help="take every N-th altered mutant")
    parser.add_argument("--only", default="", help="one module of the checks")
    parser.add_argument("--removed", action="store_true", help="only remove rules")
    chosen = parser.parse_args()
    sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]
    # Some tests start an interpreter of their own: it must find the package too.
    inherited = [os.environ["PYTHONPATH"]] if os.environ.get("PYTHONPATH") else []
    os.environ["PYTHONPATH"] = os.pathsep.join([str(ROOT / "src"), *inherited])
    import generate  # noqa: F401 - imports the engine, so that children need not
    import hypothesis  # noqa: F401
    import pytest  # noqa: F401

    begun = time.perf_counter()
    if _fails(lambda: None):
        raise SystemExit("the tests fail without any mutant")
    print(f"unchanged: passes in {time.perf_counter() - begun:.0f} s", flush=True)
    if not chosen.only:
        names = _judged()
        missed = [name for name in names if not noticed_without(name)]
        print(f"removed: {len(names) - len(missed)} of {len(names)} noticed", *missed, flush=True)
    if chosen.removed:
        return
    total = caught = 0
    for module, target in mutants(chosen.every, chosen.only):
        fails, told = noticed(module, target)
        total += 1
        caught += fails
        if not fails:
            print(f"not noticed: {module} {told}", flush=True)
    print(f"altered: {caught} of {total} noticed ({100 * caught / max(total, 1):.0f} %)")


def _judged() -> list[str]:
    """Return the rules asked about a plan, asked in a child so that this process imports none."""
    reader, writer = os.pipe()
    if os.fork() == 0:
        from cablewalk.checks.registry import JUDGED

        os.write(writer, " ".join(JUDGED).encode())
        os._exit(0)
    os.close(writer)
    os.wait()
    with os.fdopen(reader) as stream:
        return stream.read().split()


if __name__ == "__main__":
    main()
