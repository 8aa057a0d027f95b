"""Every writer killed at some of its calls, always the same; for 500: python -m tests.fuzz.kills --kills 500."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.fuzz.kills import WRITERS

ROOT = Path(__file__).parents[2]


@pytest.mark.skipif(sys.platform == "win32", reason="a process cannot be forked")
def test_a_writer_killed_at_any_call_loses_nothing_and_leaves_nothing_half() -> None:
    # A process of its own: forking it is safe, as none of its libraries has begun threads.
    command = [sys.executable, "-m", "tests.fuzz.kills", "--kills", "16"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    lines = done.stdout.splitlines()
    assert [line.split(": ")[1] for line in lines[:-1]] == ["2 kills, the law broken at none"] * len(WRITERS)
