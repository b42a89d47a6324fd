"""The reports as text, against stored text, on the bench of ``test_reports_bench``."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from click.testing import CliRunner
from test_reports_bench import AGAIN, BASELINE, LOUD, SWAP, written

from cablewalk.cli import commands
from cablewalk.cli.page import WIDTH, Page

ROOT = Path(__file__).resolve().parents[1]

OUTAGES = """\
OUTAGES on bench: Bench with a heater and a fan
  P1  swap   PET 0:00 → 0:15      0:15 long  W2 for W1
  P2  again  PET 0:00 → 0:01      0:01 long, 1:00 after the phase before

PLANNED: 3 losses
  SERVICE                 DOWN AT    BACK AT       DARK   CLOCK  MARGIN  RECONNECT BY VERIFIED
  heat                    P1 0:00    P1 0:13       0:13    0:15    0:02  P1 0:13      P1 0:14
      heater: Tank heater
      why       s1 → switch off K1 (MAIN) → feed SRC
      planned   the harness goes
      recovery  0:02 after it is reconnected: reconnect by counts it, the clock runs out at P1 0:15
      back      by step s3
      clock     0:15 allowed, 0:13 used, outages add up: no time resets it; source: thermal note 7
                (invented)
  fan                     P1 0:00    P1 0:11       0:11       -       -  -            P1 0:15
      power
      why       s1 → switch off K1 (MAIN) → feed SRC
      planned   it shares the harness
      back      by step s3
  heat                    P2 0:00    not back     0:01+    0:15   -0:01  P2 0:00      never
      !! ITS CLOCK CANNOT BE KEPT: 0:01 over if it is reconnected as the plan ends
      heater: Tank heater
      why       a2 → switch off K1 (MAIN) → feed SRC
      recovery  0:02 after it is reconnected: reconnect by counts it, the clock runs out at P2 0:02
      open      margin and used are as of the end of the plan, and running
      clock     0:15 allowed, 0:01 used, 0:13 used before, outages add up: no time resets it;
                source: thermal note 7 (invented)

Times are predictions from the procedures' estimates (likely minutes). The certified procedure and
the flight rules decide.
How sure these minutes are was not sampled: how minutes vary (spread) is not said in swap, again.
Phase limits not judged: consumables of swap, again: phase_limits.consumables is not given;
turn-back of swap, again: phase_limits.turn_back is not given.

UNPROVEN: up, but disturbed and not verified since
  fan                     P1 0:11    P1 0:15       0:04  s3 → switch on K1 (MAIN) → feed SRC
  heat                    P1 0:13    P1 0:14       0:01  s3 → switch on K1 (MAIN) → feed SRC

RE-ROUTED: the same ends by another way
  heat                    P1 0:09    s2         Tank heater

RETIRED
  fan                     P2 0:00    a2

FINDINGS: 1 error
  ERROR clock-exceeded  again.yaml:8, step a2
      heat is down 0:01 (0:14 with earlier outages) and is not back; it takes 0:02 to recover
      expected    at most 0:15 (thermal note 7 (invented))
      difference  0:01 over, reconnected as the replay ends
      way out     reconnect earlier, shorten the work between, or power it another way
      source      thermal note 7 (invented)
"""

OUTAGES_LOUD = """\
OUTAGES on bench: Bench with a heater and a fan
  swap  PET 0:00 → 0:14      0:14 long  W2 for W1

!! NOBODY PLANNED THIS: 1 loss
  SERVICE                 DOWN AT    BACK AT       DARK   CLOCK  MARGIN  RECONNECT BY VERIFIED
  fan                     0:00       not back     0:14+       -       -  -            never
      power
      why       s1 → switch off K1 (MAIN) → feed SRC

PLANNED: 1 loss
  SERVICE                 DOWN AT    BACK AT       DARK   CLOCK  MARGIN  RECONNECT BY VERIFIED
  heat                    0:00       not back     0:14+    0:15   -0:01  0:13         never
      !! ITS CLOCK CANNOT BE KEPT: 0:01 over if it is reconnected as the plan ends
      heater: Tank heater
      why       s1 → switch off K1 (MAIN) → feed SRC
      planned   the harness goes
      recovery  0:02 after it is reconnected: reconnect by counts it, the clock runs out at 0:15
      open      margin and used are as of the end of the plan, and running
      clock     0:15 allowed, 0:14 used, outages add up: no time resets it; source: thermal note 7
                (invented)

Times are predictions from the procedures' estimates (likely minutes). The certified procedure and
the flight rules decide.
How sure these minutes are was not sampled: how minutes vary (spread) is not said in swap.
Phase limits not judged: consumables of swap: phase_limits.consumables is not given; turn-back of
swap: phase_limits.turn_back is not given.

FINDINGS: 6 errors
  ERROR unplanned-loss  loud.yaml:12, step s1
      fan goes down, and nothing plans it
      expected    fan stays up, or the step says 'loses: fan'
      difference  s1 → switch_off K1 → feed SRC
      way out     re-route fan first, or plan the outage (loses, planned_outages)
  ERROR refused  loud.yaml:24, step s2
      mate is impossible: Q2 is capped with C2
      expected    a bare half
      difference  Q2 stands capped; needed: a bare half
      way out     legal now: remove_cap
      and what follows from it:
      - step s2: not-as-expected: Q2 is capped C2  (loud.yaml:25)
      - step s3: verify-failed: heat cannot be verified: it is down  (loud.yaml:30)
      - step s3: verify-failed: fan cannot be verified: it is down  (loud.yaml:30)
  ERROR clock-exceeded  loud.yaml:12, step s1
      heat is down 0:14 and is not back; it takes 0:02 to recover
      expected    at most 0:15 (thermal note 7 (invented))
      difference  0:01 over, reconnected as the replay ends
      way out     reconnect earlier, shorten the work between, or power it another way
      source      thermal note 7 (invented)
"""

REPLAY_LOUD = """\
REPLAY of bench: Bench with a heater and a fan
  swap  PET 0:00 → 0:14      0:14 long  W2 for W1

==== swap ====

0:00 → 0:02      s1  gnd (grace)
    say      MAIN off.
    see      MAIN reads open.
    0:00  switch off K1 (MAIN)
            K1: on → off
            LOST      heat (heater) at 0:00: up → down; because s1 → switch off K1 (MAIN) → feed SRC
            LOST      !! NOT PLANNED !! fan (power) at 0:00: up → down; because s1 → switch off K1
                      (MAIN) → feed SRC
    0:01  block K1 (MAIN)
            K1: off → blocked
        ERROR unplanned-loss  loud.yaml:12, step s1
            fan goes down, and nothing plans it
            expected    fan stays up, or the step says 'loses: fan'
            difference  s1 → switch_off K1 → feed SRC
            way out     re-route fan first, or plan the outage (loses, planned_outages)
        ERROR clock-exceeded  loud.yaml:12, step s1
            heat is down 0:14 and is not back; it takes 0:02 to recover
            expected    at most 0:15 (thermal note 7 (invented))
            difference  0:01 over, reconnected as the replay ends
            way out     reconnect earlier, shorten the work between, or power it another way
            source      thermal note 7 (invented)

0:02 → 0:08      s2  ev1 (ada)
    say      W1 off, W2 on.
    CAUTION  Watch the pins.
    0:02  demate P1
            J1: mated P1 → bare; P1: mated J1 → bare
    0:03  demate P2
            J2: mated P2 → bare; P2: mated J2 → bare
    0:04  take W2
            Q1: packed kit → in_hand ada; Q2: packed kit → in_hand ada
    0:05  remove cap C1
            Q1: capped C1 → bare; C1: fitted Q1 → tethered Q1
    0:06  mate Q1 to J1
            J1: bare → mated Q1; Q1: bare → mated J1
    0:07  mate Q2 to J2
            NOT POSSIBLE: Q2 is capped with C2
    0:08  expect Q2 is mated
        ERROR refused  loud.yaml:24, step s2
            mate is impossible: Q2 is capped with C2
            expected    a bare half
            difference  Q2 stands capped; needed: a bare half
            way out     legal now: remove_cap
            and what follows from it:
            - step s2: not-as-expected: Q2 is capped C2  (loud.yaml:25)
            - step s3: verify-failed: heat cannot be verified: it is down  (loud.yaml:30)
            - step s3: verify-failed: fan cannot be verified: it is down  (loud.yaml:30)

0:08 → 0:14      s3  gnd (grace)
    say      MAIN on.
    0:08  unblock K1 (MAIN)
            K1: blocked → off
    0:09  switch on K1 (MAIN)
            K1: off → on
    0:10  wait 2 min
    0:12  verify heat
    0:13  verify fan

SUMMARY
  steps     3
  actions   13 done, 1 not possible
  services  2 times lost, 1 of them not planned
  findings  6 errors

SERVICES AT THE END
  heat  heater  down   (at the start: up)
  fan   power   down   (at the start: up)

FINDINGS: 6 errors
  loud.yaml:12: error: unplanned-loss: step s1: fan goes down, and nothing plans it
  loud.yaml:24: error: refused: step s2: mate is impossible: Q2 is capped with C2
  loud.yaml:25: error: not-as-expected: step s2: Q2 is capped C2 (follows from step s2)
  loud.yaml:30: error: verify-failed: step s3: heat cannot be verified: it is down (follows from
      step s2)
  loud.yaml:30: error: verify-failed: step s3: fan cannot be verified: it is down (follows from step
      s2)
  loud.yaml:12: error: clock-exceeded: step s1: heat is down 0:14 and is not back; it takes 0:02 to
      recover
"""


def printed(folder: Path, *arguments: str, **documents: str) -> str:
    """Return what a command prints of documents in the folder it runs in."""
    written(folder, **documents)
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        files = [f"{name}.yaml" for name in documents]
        return CliRunner().invoke(commands, [*arguments, *files]).stdout


def test_outages_page(tmp_path: Path) -> None:
    text = printed(tmp_path, "outages", bench=BASELINE, swap=SWAP, again=AGAIN)
    assert text == OUTAGES


def test_outages_page_is_loud(tmp_path: Path) -> None:
    text = printed(tmp_path, "outages", "--keep-going", bench=BASELINE, loud=LOUD)
    assert text == OUTAGES_LOUD


def test_replay_page(tmp_path: Path) -> None:
    text = printed(tmp_path, "replay", "--keep-going", bench=BASELINE, loud=LOUD)
    assert text == REPLAY_LOUD


def test_a_stopped_replay_says_so(tmp_path: Path) -> None:
    text = printed(tmp_path, "replay", bench=BASELINE, loud=LOUD, again=AGAIN)
    assert "!! STOPPED at an action that is not possible" in text
    assert "!! NOT REPLAYED: again" in text
    assert "\nnot reached: s3\n" in text


def test_no_outage_says_so(tmp_path: Path) -> None:
    idle = "cablewalk: 1\nprocedure: idle\nsteps: [{id: i1, by: ada, do: {wait: 5}}]\n"
    text = printed(tmp_path, "outages", bench=BASELINE, idle=idle)
    assert "No service goes down.\n" in text
    assert "Times are predictions" not in text


def test_an_exceeded_clock_is_loud(tmp_path: Path) -> None:
    tight = BASELINE.replace("allowed_min: 15", "allowed_min: 12")
    text = printed(tmp_path, "outages", bench=tight, swap=SWAP)
    assert "!! CLOCK EXCEEDED by 0:01" in text
    assert "ERROR clock-exceeded" in text


@pytest.mark.parametrize("name", ["replay", "outages"])
@pytest.mark.parametrize(
    "files",
    [
        ["outpost.yaml", "outing-1.yaml", "outing-2.yaml", "outing-3.yaml"],
        ["faulty/bench.yaml", "faulty/swap.yaml"],
    ],
    ids=["outings", "faulty"],
)
def test_demo_pages_fit_the_width(name: str, files: list[str]) -> None:
    paths = [str(ROOT / "configs" / file) for file in files]
    text = CliRunner().invoke(commands, [name, "--keep-going", *paths]).stdout
    lines = text.splitlines()
    assert len(lines) > 10
    # A path of the machine the test runs on may be as long as it likes.
    assert all(len(line.replace(str(ROOT) + os.sep, "")) <= WIDTH for line in lines)
    assert all(line == line.rstrip() for line in lines)


def test_long_ids_and_labels_fit(tmp_path: Path) -> None:
    long = "x" * 64
    words = " ".join(["word"] * 300)
    bench = BASELINE.replace("heat:", f"{long}:").replace("Tank heater", "y" * 200)
    swap = SWAP.replace("heat", long).replace("MAIN off.", words)
    for name in ("replay", "outages"):
        text = printed(tmp_path, name, bench=bench, swap=swap)
        assert text.count(long) > 1
        assert all(len(line) <= WIDTH for line in text.splitlines())


def test_field_stays_in_its_column() -> None:
    page = Page()
    page.field("say", "one\n\n  two\n", 2, 6)
    page.field("see", "", 2, 6)
    page.field("why", "a " * 60, 2, 6)
    first, second, third, fourth = page.text.splitlines()
    assert (first, second) == ("  say   one", "        two")
    assert third.startswith("  why   a ")
    assert fourth.startswith("        a ")


def test_get_aheads_left_out_are_named() -> None:
    demo = Path(__file__).resolve().parents[1] / "configs"
    files = [str(demo / "outpost.yaml"), str(demo / "outing-1.yaml")]
    told = CliRunner().invoke(commands, ["replay", *files]).stdout
    assert "get-aheads not in it: third-tie, look-at-outlet" in told
    both = CliRunner().invoke(commands, ["replay", "--get-aheads", "2", *files]).stdout
    assert "get-aheads not in it" not in both
