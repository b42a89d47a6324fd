"""Five hundred writers killed while they record: nothing acknowledged is lost, nothing is half.

Kill -9 and fork are of Linux; elsewhere these tests are skipped.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from asrun_kill import kill_often

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="kill -9 and fork: Linux only")

KILLS = 500


@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
def test_five_hundred_kills(tmp_path: Path) -> None:
    acknowledged, after_one = kill_often(tmp_path, KILLS, seed=7)
    assert acknowledged > KILLS, "the writers hardly came to write: the test proves nothing"
    assert after_one > KILLS / 4, "the kills hardly ever came while a writer was recording"
