"""A process killed at any point leaves all that it had committed, and a log that opens.

By hand, with more: python tests/records/test_crash.py 200
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from bubblegrade.records.checking import faults
from bubblegrade.records.log import open_log

WRITES = 200
STEPS = 3_200  # of SQLite's machine, in tens: what the writes take, and a little more
# Writes at random and says each token after it is committed; kills itself after so many steps of SQLite's machine.
WRITER = """
import os, random, signal, sys
from pathlib import Path
from bubblegrade.records.log import open_log
from bubblegrade.records.tied import Result
place, seed, left = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
dice = random.Random(seed)
def step():
    global left
    left -= 1
    if left == 0:
        os.kill(os.getpid(), signal.SIGKILL)
with open_log(place, create=True) as log:
    log.connection.set_progress_handler(step, 10)
    number = 0
    for turn in range(int(sys.argv[4])):
        token, what = f"t{turn}", dice.choice(["add", "note", "correct", "tie"]) if number else "add"
        if what == "add":
            number = log.add({"batch": token, "gauge_gel": "58psi", "remarks": "x" * dice.randrange(5000)})
        elif what == "note":
            log.note(dice.randint(1, number), token)
        elif what == "correct":
            log.correct(dice.randint(1, number), {"recipe": token})
        else:
            log.tie(dice.randint(1, number), [Result("hold", token, token, '"' + "x" * dice.randrange(20000) + '"')])
        print(token, flush=True)
    print("left", left, file=sys.stderr)
"""


def kept_after_a_kill(place: Path, seed: int, *, by_itself: bool) -> tuple[list[str], list[str]]:
    """Run the writer, kill it, and return the tokens it said were committed, and those in the log after."""
    dice = random.Random(seed)  # noqa: S311 - repeatable, no secret
    left = dice.randrange(1, STEPS) if by_itself else 0
    lines = dice.randrange(WRITES)
    command = [sys.executable, "-c", WRITER, str(place), str(seed), str(left), str(WRITES)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as writer:
        assert writer.stdout is not None
        said = []
        for line in writer.stdout:
            said.append(line.strip())
            if not by_itself and len(said) > lines:
                writer.kill()  # while it goes on writing; what it says until it is dead still counts
    with open_log(place, create=True) as log:
        assert list(faults(log.connection)) == []
        places = (("batch", "casting"), ("text", "note"), ("new", "history"), ("file", "result"))
        tokens = " UNION ".join(f"SELECT {column} FROM {table}" for column, table in places)  # noqa: S608 - our own
        return said, [token for (token,) in log.connection.execute(tokens)]


def nothing_is_lost(place: Path, seed: int, *, by_itself: bool) -> None:
    said, kept = kept_after_a_kill(place, seed, by_itself=by_itself)
    # The last one may have been committed and not yet been said.
    assert set(said) <= set(kept) <= {*said, f"t{len(said)}"}


@pytest.mark.skipif(sys.platform == "win32", reason="a process cannot kill itself so")
@pytest.mark.parametrize("seed", range(4))
def test_a_writer_that_dies_within_a_write_has_lost_nothing(tmp_path: Path, seed: int) -> None:
    nothing_is_lost(tmp_path / "castings.sqlite", seed, by_itself=True)


@pytest.mark.parametrize("seed", range(3))
def test_a_writer_killed_from_outside_has_lost_nothing(tmp_path: Path, seed: int) -> None:
    nothing_is_lost(tmp_path / "castings.sqlite", seed, by_itself=False)


if __name__ == "__main__":
    for number in range(int(sys.argv[1])):
        with tempfile.TemporaryDirectory() as folder:
            nothing_is_lost(Path(folder, "castings.sqlite"), number, by_itself=number % 2 == 0)
