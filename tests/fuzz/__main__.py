"""Damage files for as long as you like: python -m tests.fuzz --minutes 10.

Every target is read in a process of its own, so that a death of it is a find too. What breaks the law is written below
--out, to be put into tests/fuzz/found when it is mended. Where atheris is installed, --guided lets it steer by what
code the files reach; it ends at the first find.
"""

from __future__ import annotations

import argparse
import itertools
import multiprocessing
import random
import resource
import sys
import time
import traceback
from pathlib import Path
from types import FunctionType

from tests.fuzz.damage import damaged, drawn_edits
from tests.fuzz.laws import TARGETS, held

BATCH = 150  # files a process
MEMORY_BYTES = 6_000_000_000  # of addresses: a picture may have 400 megapixels
WATCHED = ("bubblegrade", "tomllib", "json")  # packages whose code leads a guided run
LONGEST_S = 60.0  # on a machine that does much else; a picture of 400 megapixels takes 3 s


def batch(target: str, seed: int, out: Path) -> None:
    """Damage files and read them; what breaks the law is written down."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    dice = random.Random(seed)  # noqa: S311 - repeatable, no secret
    whole = TARGETS[target].whole
    for number in range(BATCH):
        name = dice.choice(sorted(whole))
        data = damaged(whole[name], drawn_edits(dice), whole[dice.choice(sorted(whole))])
        now = out / f"now-{target.replace(' ', '-')}-{name}"
        now.write_bytes(data)
        begun = time.monotonic()
        try:
            held(TARGETS[target], name, data)
            assert time.monotonic() - begun < LONGEST_S, "too slow"
        except Exception:
            kept = out / f"{target.replace(' ', '-')}-{seed}-{number}-{name}"
            kept.write_bytes(data)
            kept.with_name(kept.name + ".txt").write_text(traceback.format_exc())
        now.unlink()


def unguided(targets: list[str], minutes: float, out: Path) -> int:
    """Read damaged files until the time is up, and return how many."""
    end, done = time.monotonic() + 60.0 * minutes, 0
    spawn = multiprocessing.get_context("fork")
    for turn in itertools.count():
        for target in targets:
            if time.monotonic() > end:
                return done
            worker = spawn.Process(target=batch, args=(target, turn, out))
            worker.start()
            worker.join(BATCH * LONGEST_S)
            if worker.exitcode != 0:
                worker.kill()
                (out / f"died-{target.replace(' ', '-')}-{turn}").write_text(f"exit status {worker.exitcode}")
                for left in out.glob(f"now-{target.replace(' ', '-')}-*"):
                    left.rename(out / f"died-{turn}-{left.name}")
            done += BATCH
    return done


def guided(target: str, minutes: float, out: Path) -> None:
    """Let atheris steer; it ends the process."""
    try:
        import atheris  # noqa: PLC0415
    except ImportError:
        sys.exit("--guided needs atheris: pip install atheris, or leave it out")
    names = sorted(TARGETS[target].whole)

    def once(data: bytes) -> None:
        held(TARGETS[target], names[len(data) % len(names)] if target == "export" else names[0], data)

    # Ours and what reads TOML and JSON for it: to watch every library takes minutes and leads astray.
    for module in [each for name, each in sys.modules.items() if name.split(".")[0] in WATCHED]:
        for function in [each for each in vars(module).values() if isinstance(each, FunctionType)]:
            if function.__module__ == module.__name__:
                atheris.instrument_func(function)
    with_time = [sys.argv[0], f"-max_total_time={int(60 * minutes)}", "-rss_limit_mb=4096", "-timeout=20"]
    begin = out / f"whole-{target.replace(' ', '-')}"
    begin.mkdir(exist_ok=True)
    for name, data in TARGETS[target].whole.items():
        (begin / name).write_bytes(data)
    atheris.Setup([*with_time, f"-artifact_prefix={out}/", str(begin)], once)
    atheris.Fuzz()


def main() -> int:
    """Run what was asked for."""
    asked = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    asked.add_argument("--minutes", type=float, default=10.0)
    asked.add_argument("--target", action="append", choices=sorted(TARGETS))
    asked.add_argument("--out", type=Path, default=Path(".hypothesis/fuzz-found"))
    asked.add_argument("--guided", action="store_true")
    said = asked.parse_args()
    said.out.mkdir(parents=True, exist_ok=True)
    targets = said.target or list(TARGETS)
    if said.guided:
        guided(targets[0], said.minutes, said.out)
    done = unguided(targets, said.minutes, said.out)
    found = sorted(place.name for place in said.out.iterdir() if place.suffix != ".txt")
    sys.stdout.write(f"{done} damaged files read, {len(found)} finds in {said.out}\n")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
