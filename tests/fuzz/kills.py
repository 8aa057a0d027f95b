"""Every writer killed at any of its calls to the system: python -m tests.fuzz.kills --kills 500.

A process is forked for every kill. It counts what it opens, renames, removes, makes and flushes below the folder, and
kills itself, as a power cut would, right before one of these; the log is killed within SQLite's own steps. After that
nothing that was finished is lost and nothing that is half is taken for whole; and the next command gets where the
first was to get.
"""

from __future__ import annotations

import argparse
import contextlib
import itertools
import os
import random
import shutil
import signal
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2

from bubblegrade.commands import main as command
from bubblegrade.commands.report_option import write_report
from bubblegrade.grading_run import Casting, Request
from bubblegrade.records.checking import faults
from bubblegrade.records.log import open_log
from bubblegrade.results.folder import ResultFolder
from bubblegrade.runs.log_sheet import JSON_FILE
from bubblegrade.runs.looks import PAUSE, STEADY, Folder
from bubblegrade.runs.one import Task
from bubblegrade.runs.watch import Post, watch
from bubblegrade.settings import Settings
from bubblegrade.show.report.castings import castings_page
from tests.command_line import contents
from tests.conftest import drawn_cup

STEP = "bubblegrade.step"  # some steps of SQLite's machine
COUNTED = frozenset({STEP, "open", "os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.truncate", "sqlite3.connect"})
Contents = dict[str, bytes]


@dataclass(frozen=True)
class Writer:
    """What is written in a folder, and how to go on after a kill."""

    begin: Callable[[Path], None]  # what stands there before
    write: Callable[[Path], None]
    go_on: Callable[[Path], None]
    # Tells from the contents before, when all is written, after a kill and after going on whether the law holds.
    law: Callable[[Contents, Contents, Contents, Contents], bool]


def said(*words: object) -> None:
    """Run a command of bubblegrade, which has to go well."""
    with open(os.devnull, "w") as nothing, contextlib.redirect_stdout(nothing):
        try:
            command.main([str(word) for word in words])
        except SystemExit as stop:
            if stop.code:
                raise AssertionError(words) from stop


def results(files: Contents) -> Contents:
    """Return the files of the result folder."""
    return {name: data for name, data in files.items() if name.startswith("out/")}


def seen(files: Contents) -> Contents:
    """Return the results that are not hidden."""
    return {name: data for name, data in results(files).items() if "/." not in name}


def forked(work: Callable[[], None]) -> int:
    """Do `work` in a process of its own, and return its exit status, below 0 where it was killed."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            work()
            status = 0
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(status)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def counted(work: Callable[[], None], folder: Path, last: int, tally: Path) -> None:
    """Do `work` and write down how many of its calls were counted; die right before the call of number `last`."""
    calls = 0

    def call(*_: object) -> None:
        nonlocal calls
        calls += 1
        if calls == last:
            os.kill(os.getpid(), signal.SIGKILL)

    def heard(event: str, args: tuple[Any, ...]) -> None:
        if event in COUNTED and str(folder) in os.fsdecode(args[0] if not isinstance(args[0], int) else b""):
            call()

    flush = os.fsync
    os.fsync = lambda number: (call(), flush(number))[1]
    sys.addaudithook(heard)
    work()
    tally.write_text(str(calls))


PHOTOGRAPHS = ("a.png", "b/a.png", "c.png")
GRADE = ("--mm-per-px", "0.05", "--jobs", "1")


def _photographs(folder: Path) -> None:
    for number, name in enumerate(PHOTOGRAPHS):
        place = folder / "photos" / name
        place.parent.mkdir(parents=True, exist_ok=True)
        cv2.imwrite(str(place), drawn_cup(casting_px=75.0 - number, size_px=200))


def _graded(folder: Path, *more: str) -> None:
    said("grade", folder / "photos", "--out", folder / "out", *GRADE, *more)


def _one_graded(folder: Path) -> None:
    """Leave an older result of other photographs."""
    _photographs(folder)
    said("grade", folder / "photos" / "b" / "a.png", "--out", folder / "out", "--mm-per-px", "0.1", "--jobs", "1")


def _batch_law(before: Contents, whole: Contents, left: Contents, after: Contents) -> bool:
    """Tell whether each file is as it should be, a record stands beside all others, and going on makes it whole."""
    here = seen(left)
    right = all(whole.get(name) == data for name, data in here.items() if name != "out/run.journal")
    complete = "out/run.json" not in here or set(results(whole)) <= set(here)
    return right and complete and after == whole and before.items() <= left.items()


def _swap_law(before: Contents, whole: Contents, left: Contents, after: Contents) -> bool:
    """Tell whether what has a record is the old result or the new one, whole; going on leaves one of them alone."""
    here, ends = seen(left), (results(before), results(whole))
    return results(after) in ends and (here in ends or not any(name in here for name in RECORDS))


RECORDS = ("out/run.json", "out/casting.csv", f"out/{JSON_FILE}", "out/page.html", "out/limits.toml")


def _cleared(record: str) -> Callable[[Path], None]:
    """Return what every later command begins with."""

    def clear(folder: Path) -> None:
        with ResultFolder.prepare(folder / "out", replace=True, record=record):
            pass

    return clear


def _logged(folder: Path, *, castings: int = 3) -> None:
    with open_log(folder / "log.sqlite", create=True, clock=lambda: 1.7e9) as log:
        for number in range(castings):
            log.add({"batch": f"b{number}"})
        log.connection.execute("PRAGMA journal_mode = DELETE")


def _exported(folder: Path, form: str) -> None:
    said("log", "export", folder / "out", "--as", form, "--replace", "--log", folder / "log.sqlite")


def _old_export(form: str) -> Callable[[Path], None]:
    def begin(folder: Path) -> None:
        _logged(folder)
        _exported(folder, form)
        with open_log(folder / "log.sqlite", clock=lambda: 1.7e9) as log:
            log.note(log.add({"batch": "a later casting"}), "a later note")
            log.connection.execute("PRAGMA journal_mode = DELETE")

    return begin


def _page(text: str) -> Callable[[Path], None]:
    page = castings_page([], not_graded=[(text, "unreadable")], settings=Settings(), version="0")
    return lambda folder: write_report(folder / "out" / "page.html", page, replace=True)


def _limits(preset: str) -> Callable[[Path], None]:
    return lambda folder: said(
        "inspect", "--write-limits", folder / "out" / "limits.toml", "--preset", preset, "--replace"
    )


def _committed(folder: Path) -> None:
    """Write into the log, each token also into a file once it is committed."""
    dice = random.Random(1)  # noqa: S311 - repeatable, no secret
    with open_log(folder / "log.sqlite", create=True, clock=lambda: 1.7e9) as log:
        log.connection.set_progress_handler(lambda: sys.audit(STEP, str(folder)), 25)
        for number in range(70):
            if number % 3 and dice.random() < 0.5:
                log.note(1, f"t{number}")
            else:
                log.add({"batch": f"t{number}", "remarks": "x" * dice.randrange(5000)})
            with (folder / "said").open("a") as told:
                told.write(f"t{number}\n")


def _log_law(_: Contents, __: Contents, left: Contents, after: Contents) -> bool:
    """Tell whether all that was told as committed is in the log, at most one more, and the log is sound."""
    told = left.get("said", b"").decode().split()
    kept = after.get("kept", b"").decode().split()
    return set(told) <= set(kept) <= {*told, f"t{len(told)}"} and after.get("faults", b"") == b""


def _looked_into(folder: Path) -> None:
    with open_log(folder / "log.sqlite", create=True) as log:
        (folder / "faults").write_text("\n".join(faults(log.connection)))
        tokens = "SELECT batch FROM casting UNION SELECT text FROM note"
        (folder / "kept").write_text("\n".join(token for (token,) in log.connection.execute(tokens)))


def _watched(folder: Path, told: str = "said") -> None:
    """Watch the photographs as they come one by one, with a pause after each but the second; note who is told of."""
    coming = iter([name for name in PHOTOGRAPHS if not (folder / "photos" / name).exists()])
    looks = itertools.cycle([*[None] * (PAUSE + 1), True, *[None] * STEADY, True])

    def wait() -> None:
        if next(looks):
            name = next(coming, None)
            if name is None:
                raise KeyboardInterrupt
            (folder / "photos" / name).parent.mkdir(exist_ok=True)
            os.link(folder / "ready" / name.replace("/", "-"), folder / "photos" / name)

    def told_of(casting: Casting) -> None:
        with (folder / told).open("a") as file:
            file.write(f"{casting.photo}\n")

    post = Post(Folder(folder / "photos").look, wait, lambda: False, lambda _: None, told_of)
    with ResultFolder.prepare(folder / "out", replace=False, resume=True) as out:
        watch(folder / "photos", Task("1", Request(mm_per_px=0.05), Settings()), out, post)


def _camera(folder: Path) -> None:
    """Leave photographs that are yet to come."""
    _photographs(folder)
    (folder / "ready").mkdir()
    for name in PHOTOGRAPHS:
        (folder / "photos" / name).rename(folder / "ready" / name.replace("/", "-"))


def _watch_law(_: Contents, whole: Contents, left: Contents, after: Contents) -> bool:
    """Tell whether what was told of is never graded again, nothing is half, and going on makes the result whole."""
    told, again = (files.get(name, b"").split() for files, name in ((left, "said"), (after, "again")))
    right = all(whole[name] == data for name, data in seen(left).items() if name.endswith(".jpg"))
    kept = "out/run.journal" in left or "out/run.json" in left or not told
    return right and kept and set(told).isdisjoint(again) and results(after) == results(whole)


WRITERS: dict[str, Writer] = {
    "batch": Writer(_photographs, _graded, lambda folder: _graded(folder, "--resume"), _batch_law),
    "replace": Writer(_one_graded, lambda folder: _graded(folder, "--replace"), _cleared("run.json"), _swap_law),
    "export csv": Writer(
        _old_export("csv"), lambda folder: _exported(folder, "csv"), _cleared("casting.csv"), _swap_law
    ),
    "export json": Writer(
        _old_export("json"), lambda folder: _exported(folder, "json"), _cleared(JSON_FILE), _swap_law
    ),
    "watch": Writer(_camera, _watched, lambda folder: _watched(folder, "again"), _watch_law),
    "page": Writer(_page("old"), _page("new"), _cleared("page.html"), _swap_law),
    "limits": Writer(_limits("pendant"), _limits("clear-lure"), _cleared("limits.toml"), _swap_law),
    "log": Writer(lambda _: None, _committed, _looked_into, _log_law),
}


@contextlib.contextmanager
def place_for(writer: Writer) -> Iterator[tuple[Path, Contents, Contents, int]]:
    """Yield a folder as it is before, its contents before and when all is written, and how many calls that takes."""
    with tempfile.TemporaryDirectory(prefix="kills") as name:
        whole, begun, tally = (Path(name, part) for part in ("whole", "begun", "tally"))
        begun.mkdir()
        assert forked(lambda: writer.begin(begun)) == 0
        shutil.copytree(begun, whole)
        assert forked(lambda: counted(lambda: writer.write(whole), whole, 0, tally)) == 0
        yield begun, contents(begun), contents(whole), int(tally.read_text())


def killed(writer: Writer, kills: int, seed: int) -> tuple[int, list[int]]:
    """Kill a writer at up to so many of its calls; return how often it was, and at which calls it broke the law."""
    with place_for(writer) as (begun, before, whole, calls):
        points = random.Random(seed).sample(range(1, calls + 1), min(kills, calls))  # noqa: S311
        broken, done = [], 0
        for point in points:
            now = begun.with_name("now")
            shutil.rmtree(now, ignore_errors=True)
            shutil.copytree(begun, now)
            status = forked(lambda: counted(lambda: writer.write(now), now, point, now.with_name("tally")))  # noqa: B023
            left = contents(now)
            went = forked(lambda: writer.go_on(now))  # noqa: B023
            done += status == -signal.SIGKILL
            if status != -signal.SIGKILL or went != 0 or not writer.law(before, whole, left, contents(now)):
                broken.append(point)
        return done, broken


def main() -> int:
    """Kill every writer, equally often as far as it has so many calls."""
    asked = argparse.ArgumentParser(prog="python -m tests.fuzz.kills", description=__doc__)
    asked.add_argument("--kills", type=int, default=500)
    asked.add_argument("--seed", type=int, default=1)
    said_ = asked.parse_args()
    cv2.setNumThreads(1)
    status, sum_done, left = 0, 0, len(WRITERS)
    for name, writer in sorted(WRITERS.items(), key=lambda each: each[0] in ("batch", "log", "replace", "watch")):
        done, broken = killed(writer, round((said_.kills - sum_done) / left), said_.seed)
        sum_done, left, status = sum_done + done, left - 1, status or bool(broken)
        sys.stdout.write(f"{name}: {done} kills, the law broken at {broken or 'none'}\n")
        sys.stdout.flush()
    sys.stdout.write(f"{sum_done} kills in all\n")
    return int(status)


if __name__ == "__main__":
    sys.exit(main())
