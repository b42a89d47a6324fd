"""The soak: ten thousand writers killed. Run with ``pytest -m soak tests/soak``."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest
from asrun_kill import kill_often

pytestmark = [
    pytest.mark.soak,
    pytest.mark.skipif(sys.platform != "linux", reason="kill -9 and fork: Linux only"),
]

KILLS = int(os.environ.get("CABLEWALK_KILLS", "10000"))


def test_ten_thousand_kills(tmp_path: Path) -> None:
    for part in range(0, KILLS, 500):
        folder = tmp_path / str(part)
        folder.mkdir()
        acknowledged, _ = kill_often(folder, min(500, KILLS - part), seed=part)
        assert acknowledged > 500
