"""The soak run of the mutation fuzzer.

    python -m tests.soak.fuzz --count 1000000 --seed 1     # goes on where the log of seed 1 ends
    python -m tests.soak.fuzz --seed 1 --only 4711         # one input again, with its traceback
    python -m tests.soak.fuzz --seed 1 --only 4711 --shrink

Input N of seed S is the same as long as what it is made from is (configs/, tests/cases/, the
mutations): "corpus" in the log is the digest of these. A line for each 10,000 inputs stands in
tests/soak/fuzz.log; a failing input stands in a folder beside it, for later versions to be tried
on. Each 1,000 inputs run in a process of their own, with its memory limited.
"""

from __future__ import annotations

import argparse
import faulthandler
import gc
import hashlib
import json
import multiprocessing
import os
import sys
import time
import warnings
from collections import Counter
from pathlib import Path
from typing import Any

from .emit import document
from .judge import SECONDS, judge, limit_memory
from .mutate import mutated
from .seeds import cases, demos
from .shrink import shrunk

HERE = Path(__file__).resolve().parent
LOG = HERE / "fuzz.log"
CHUNK = 1_000
LINE = 10_000


def corpus() -> str:
    """Return the digest of what inputs are made from."""
    names = ("mutate.py", "traps.py", "words.py", "emit.py")
    mutations = [(HERE / name).read_bytes() for name in names]
    seeds = json.dumps([seed.documents for seed in (*demos(), *cases())])
    return hashlib.sha256(b"".join((*mutations, seeds.encode()))).hexdigest()[:16]


def _keep(log: Path, seed: int, number: int, raw: list[bytes], text: str) -> None:
    """Write a failing input and what it did."""
    folder = log.with_suffix(".failures") / f"{seed}-{number}"
    folder.mkdir(parents=True, exist_ok=True)
    for n, part in enumerate(raw):
        (folder / ("baseline.yaml" if n == 0 else f"phase{n}.yaml")).write_bytes(part)
    (folder / "failure.txt").write_text(text, encoding="utf-8", errors="backslashreplace")


def chunk(log: Path, seed: int, first: int, last: int, at: Any, pipe: Any) -> None:
    """Judge inputs ``first`` to ``last``; put the number at hand into ``at``."""
    warnings.simplefilter("error")
    parent = os.getppid()
    limit_memory()
    outcomes: Counter[str] = Counter()
    slowest = (0.0, first)
    failed: dict[str, int] = {}
    for number in range(first, last):
        at.value = number
        name, raw = mutated(seed, number)
        # Beyond Python's own alarm: a loop in C cannot be interrupted by it.
        faulthandler.dump_traceback_later(60 * SECONDS, exit=True)
        begin = time.process_time()
        outcome, failure = judge(raw, number)
        slowest = max(slowest, (time.process_time() - begin, number))
        outcomes[outcome] += 1
        if failure is not None and failure.signature not in failed:
            failed[failure.signature] = number
            told = f"{failure.signature}\nmade from {name}\n\n{failure.text}"
            _keep(log, seed, number, raw, told)
        if number % 100 == 0:
            gc.collect()
            if os.getppid() != parent:
                return
    faulthandler.cancel_dump_traceback_later()
    pipe.send((outcomes, slowest, failed))


def soak(log: Path, seed: int, count: int) -> int:
    """Judge inputs up to ``count``, from where the log of this seed ends; return the failures."""
    context = multiprocessing.get_context("fork")
    at = context.Value("q", 0)
    made_from = corpus()
    first, failures = _resume(log, seed)
    # Whatever is imported late is imported now: the processes to come share it.
    judge([document(part) for part in demos()[0].documents], 0)
    judge([document(part) for part in demos()[0].documents], 1)
    while first < count:
        total: Counter[str] = Counter()
        slowest, begin = (0.0, first), time.monotonic()
        upto = min(count, first - first % LINE + LINE)
        signatures: dict[str, int] = {}
        for start in range(first, upto, CHUNK):
            mine, theirs = context.Pipe(duplex=False)
            worker = context.Process(
                target=chunk, args=(log, seed, start, min(upto, start + CHUNK), at, theirs)
            )
            worker.start()
            theirs.close()
            try:
                outcomes, slow, failed = mine.recv()
            except EOFError:
                worker.join()
                failed = {f"the process ended with code {worker.exitcode}": at.value}
                _keep(log, seed, at.value, mutated(seed, at.value)[1], next(iter(failed)))
                outcomes, slow = Counter({"failed": 1, "not judged": CHUNK - 1}), slowest
            worker.join()
            total += outcomes
            slowest = max(slowest, slow)
            for signature, number in failed.items():
                signatures.setdefault(signature, number)
        failures += total["failed"]
        line = {
            "seed": seed,
            "corpus": made_from,
            "next": upto,
            "outcomes": dict(sorted(total.items())),
            "slowest_s": round(slowest[0], 2),
            "slowest_input": slowest[1],
            "took_s": round(time.monotonic() - begin),
            "failures_so_far": failures,
            "new": signatures,
        }
        with log.open("a", encoding="utf-8") as file:
            file.write(f"{json.dumps(line)}\n")
        print(json.dumps(line), flush=True)
        first = upto
    return failures


def _resume(log: Path, seed: int) -> tuple[int, int]:
    """Return the next input of a seed, and the failures so far, as the log has it."""
    found = (0, 0)
    if log.exists():
        for text in log.read_text(encoding="utf-8").splitlines():
            line = json.loads(text)
            if line["seed"] == seed:
                found = line["next"], line["failures_so_far"]
    return found


def main() -> int:
    """Run what the arguments ask for; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.soak.fuzz", description=__doc__)
    parser.add_argument("--count", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--log", type=Path, default=LOG)
    parser.add_argument("--only", type=int, help="judge this input and nothing else")
    parser.add_argument("--shrink", action="store_true", help="with --only: print a smaller input")
    given = parser.parse_args()
    if given.only is None:
        return 1 if soak(given.log, given.seed, given.count) else 0
    name, raw = mutated(given.seed, given.only)
    outcome, failure = judge(raw, given.only)
    print(f"made from {name}: {outcome}")
    if failure is None:
        return 0
    print(failure.signature, failure.text, sep="\n")
    for text in shrunk(raw, given.only, failure.signature) if given.shrink else raw:
        print("---", text.decode("utf-8", "backslashreplace"), sep="\n")
    return 1


if __name__ == "__main__":
    sys.exit(main())
