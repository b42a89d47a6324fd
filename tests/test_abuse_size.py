"""Input made to exhaust: refused with a sentence, quickly, and within a GiB of memory.

Each runs the program in a process of its own, with its address space and processor time limited.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest
from abuse import bench, is_sentence, program, write
from soak.emit import document

MB = 1_000_000


def aliases() -> bytes:
    """Nine aliases a line, forty lines: nine to the fortieth entries, if they were followed."""
    lines = ["a0: &a0 [x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 40)]
    return "\n".join(lines).encode()


def merges() -> bytes:
    """The same with merge keys."""
    lines = ["a0: &a0 {k: v}"]
    lines += [f"a{n}: &a{n} {{<<: [*a{n - 1}, *a{n - 1}]}}" for n in range(1, 40)]
    return "\n".join(lines).encode()


def noise() -> bytes:
    return random.Random(1).randbytes(50 * MB)


def letters() -> bytes:
    return bytes(random.Random(1).choices(b"abcdefgh :-[]{}\n\"'", k=50 * MB // 10)) * 10


HEAD = b"cablewalk: 1\nbaseline: B\n"
BIG: dict[str, Callable[[], bytes]] = {
    "alias bomb": aliases,
    "merge bomb": merges,
    "50 MB of noise": noise,
    "50 MB of letters": letters,
    "50 MB of zeros": lambda: bytes(50 * MB),
    "50 MB of blanks": lambda: b" " * (50 * MB),
    "15 MB of lines": lambda: b"\n" * (15 * MB),
    "15 MB of brackets": lambda: b"[" * (15 * MB),
    "15 MB of dashes": lambda: b"- " * (7 * MB),
    "15 MB of empty lists": lambda: HEAD + b"places: [" + b"[]," * (5 * MB) + b"]",
    "15 MB of one list": lambda: HEAD + b"places: [" + b"x," * (7 * MB) + b"x]",
    "15 MB of keys": lambda: b"".join(b"k%d: v\n" % n for n in range(1_100_000)),
    "15 MB of one key again": lambda: b"k: v\n" * (3 * MB),
    "15 MB of one text": lambda: HEAD + b'title: "' + b"x" * (15 * MB) + b'"',
    "15 MB of one key's text": lambda: HEAD + b"? " + b"x" * (15 * MB) + b"\n: 1",
    "15 MB of one comment": lambda: b"#" * (15 * MB),
    "15 MB of tags": lambda: b"- !!x y\n" * (15 * MB // 8),
    "15 MB of anchors": lambda: b"- &x y\n" * (2 * MB),
    "15 MB of documents": lambda: b"---\n" * (4 * MB),
    "15 MB of quotes": lambda: b"'" * (15 * MB),
    "15 MB of colons": lambda: b"a: " * (5 * MB),
    "10,000 levels of lists": lambda: HEAD + b"places: " + b"[" * 10_000 + b"]" * 10_000,
    "10,000 levels of groups": lambda: HEAD + b"places: " + b"{a: " * 10_000 + b"}" * 10_000,
    "10,000 levels of indentation": lambda: b"".join(b" " * n + b"a:\n" for n in range(5_000)),
    "a label of a million characters": lambda: HEAD
    + b'places: {P: {label: "' + b"y" * MB + b'"}}',
    "an id of a million characters": lambda: HEAD + b"places:\n  ? " + b"y" * MB + b"\n  : {}",
    "a number of a million digits": lambda: HEAD
    + b"paths: {p: {between: a b, length_m: " + b"9" * MB + b"}}",
    "a count of a million digits": lambda: HEAD + b"interfaces: {i: " + b"9" * MB + b"}",
    "a hundred thousand unknown keys": lambda: HEAD
    + b"".join(b"unknown%d: 1\n" % n for n in range(100_000)),
    "a hundred thousand faults": lambda: HEAD
    + b"places:\n" + b"".join(b"  P%d: {lable: x}\n" % n for n in range(100_000)),
}  # fmt: skip


@pytest.mark.parametrize("name", BIG)
def test_what_would_exhaust_is_refused(name: str, tmp_path: Path) -> None:
    bad, good = tmp_path / "bad.yaml", write(tmp_path, *bench())
    bad.write_bytes(BIG[name]())
    done = program("outages", bad, good[1])
    assert done.returncode == 2, (done.returncode, done.stderr[-2000:])
    assert is_sentence(done.stderr), done.stderr[:2000]
    assert done.stdout == ""
    assert len(done.stderr) < 200_000
    assert "memory" not in done.stderr.lower()


def test_a_procedure_that_would_exhaust_is_refused_too(tmp_path: Path) -> None:
    bad, good = tmp_path / "bad.yaml", write(tmp_path, *bench())
    bad.write_bytes(aliases())
    done = program("outages", good[0], bad)
    assert done.returncode == 2
    assert is_sentence(done.stderr)


RUNS = {
    "all contacts of the largest interface": ["P1.* P2.*"] * 50,
    "every pair by itself": [f"P1.{a} P2.{b}" for a in range(1, 60) for b in range(1, 60)],
    "one splice of all": [" ".join(f"P{p}.{c}" for p in (1, 2) for c in range(1, 2001))],
    "ranges": ["P1.1-2000 P2.1-2000"] * 20,
}


@pytest.mark.parametrize("name", RUNS)
def test_large_hardware_in_few_words_takes_no_age(name: str, tmp_path: Path) -> None:
    """A few lines may stand for thousands of contacts: within limits, or told to be too many."""
    baseline, procedure = bench()
    baseline["interfaces"]["p2"]["contacts"] = "2000"
    baseline["harnesses"]["W1"]["runs"] = RUNS[name]
    done = program("outages", *write(tmp_path, baseline, procedure))
    assert done.returncode in (0, 1, 2), done.stderr[-2000:]
    assert done.returncode < 2 or is_sentence(done.stderr)


def test_many_steps_and_services_take_no_age(tmp_path: Path) -> None:
    baseline, procedure = bench()
    service = {"kind": "data", "lines": "LAMP.hi to SRC.hi"}
    baseline["services"].update({f"s{n}": service for n in range(200)})
    step = {"by": "ada", "do": [{"inspect": "J1"}]}
    procedure["steps"] = [{"id": f"n{n}", **step} for n in range(400)]
    done = program("outages", *write(tmp_path, baseline, procedure))
    assert done.returncode in (0, 1), done.stderr[-2000:]


@pytest.mark.parametrize(
    "chain",
    [
        {"needs": {f"s{n}": [f"s{n + 1}"] for n in range(400)}},
        {"needs": {f"s{n}": [f"s{m}" for m in range(n)] for n in range(120)}},
    ],
    ids=["a chain of services", "every service needs all before it"],
)
def test_services_that_need_one_another_take_no_age(
    chain: dict[str, dict[str, list[str]]], tmp_path: Path
) -> None:
    baseline, procedure = bench()
    services = baseline["services"]
    needed = (name for names in chain["needs"].values() for name in names)
    names = dict.fromkeys([*chain["needs"], *needed])
    for name in names:
        services[name] = {
            "kind": "data", "lines": "LAMP.hi to SRC.hi", "needs": chain["needs"].get(name, []),
        }  # fmt: skip
    done = program("outages", *write(tmp_path, baseline, procedure))
    assert done.returncode in (0, 1), done.stderr[-2000:]


def test_steps_that_wait_for_one_another_take_no_age(tmp_path: Path) -> None:
    baseline, procedure = bench()
    everyone = {f"w{n}": "outside" for n in range(30)}
    baseline["people"] |= everyone
    baseline["now"]["people"] |= dict.fromkeys(everyone, "deck")
    procedure["steps"] = [
        {"id": f"n{n}", "by": f"w{n % 30}", "after": [f"n{m}" for m in range(max(0, n - 40), n)],
         "do": [{"wait": "0"}]}
        for n in range(1000)
    ]  # fmt: skip
    done = program("outages", *write(tmp_path, baseline, procedure))
    assert done.returncode in (0, 1), done.stderr[-2000:]


def test_a_comma_in_a_label_loses_no_words(tmp_path: Path) -> None:
    """``{label: at the ship, in the water}`` has a key 'in the water' with nothing after it."""
    baseline, procedure = bench()
    paths = write(tmp_path, baseline, procedure)
    raw = Path(paths[0]).read_bytes()
    Path(paths[0]).write_bytes(raw.replace(b"{label: plain,", b"{label: plain, in the water,", 1))
    done = program("outages", *paths)
    assert done.returncode == 2
    assert "the key 'in the water'" in done.stderr
    assert document(baseline) == raw
