"""`bubblegrade grade` of many photographs: by several processes, gone on with after a kill, and watched."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from bubblegrade.runs.looks import STEADY
from tests.command_line import bubblegrade, ctrl_c_after, refused

Photograph = Callable[..., Path]

SEED = 20260517  # of the points at which runs are killed
ROUNDS = 5  # runs, each killed twice
needs_posix = pytest.mark.skipif(os.name != "posix", reason="kills processes as POSIX does")


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file below a folder by its name, but for the lock, which a run that is killed leaves unlocked."""
    files = (file for file in folder.rglob("*") if file.is_file() and file.suffix != ".lock")
    return {file.relative_to(folder).as_posix(): file.read_bytes() for file in files}


@pytest.fixture(scope="module")
def once(tmp_path_factory: pytest.TempPathFactory, photograph: Photograph) -> Path:
    """Return a folder with `cups`, three photographs, and `R`, their result."""
    place = tmp_path_factory.mktemp("grade-many")
    for number, level in enumerate((0.5, 0.55, 0.6)):
        photograph(place / "cups" / f"{number}.png", level=level)
    assert bubblegrade("grade", place / "cups", "--out", place / "R", "--jobs", "1").exit_code == 0
    return place


# Several processes


def test_jobs_give_the_same_bytes_and_the_same_table(tmp_path: Path, once: Path) -> None:
    one = bubblegrade("grade", once / "cups", "--out", tmp_path / "one", "--jobs", "1")
    two = bubblegrade("grade", once / "cups", "--out", tmp_path / "two", "--jobs", "2")
    assert (one.exit_code, one.stdout, one.stderr) == (two.exit_code, two.stdout, two.stderr) == (0, one.stdout, "")
    assert contents(tmp_path / "one") == contents(tmp_path / "two") == contents(once / "R")


@pytest.mark.parametrize("jobs", ["0", "-2", "many"])
def test_jobs_that_cannot_be_are_one_line(tmp_path: Path, once: Path, jobs: str) -> None:
    refused(bubblegrade("grade", once / "cups", "--out", tmp_path / "R", "--jobs", jobs), "--jobs", jobs)


STOPPED_WHILE_THEY_START = """
import os, signal, sys, time
from contextlib import contextmanager
from bubblegrade.commands import main
from bubblegrade.runs import workers

begin = workers._undisturbed

@contextmanager
def stop():
    with begin():
        yield
    time.sleep(0.1)  # the processes load their libraries, which takes longer
    os.killpg(0, signal.SIGINT)

workers._undisturbed = stop
main(sys.argv[1:])
"""
STOPPED_AT_THE_FIRST = """
import os, signal, sys
from bubblegrade.commands import main
from bubblegrade.results.journal import Journal

def stop(*_):
    if sys.argv[-1] == "--resume":
        os.kill(os.getpid(), signal.SIGKILL)
    os.killpg(0, signal.SIGINT)  # as a terminal does: to this process and to its workers

Journal.enter = stop
main(sys.argv[1:])
"""


def stopped(once: Path, out: Path, *more: str, by: str = STOPPED_AT_THE_FIRST) -> tuple[int, str, str]:
    """Grade by two processes until a script stops them; return status and outputs.

    They are whole only when the last process has ended that holds them, workers included.
    """
    run = subprocess.Popen(
        [sys.executable, "-c", by, "grade", once / "cups", "--out", out, "--jobs", "2", *more],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    said, faults = run.communicate(timeout=120)
    return run.returncode, said, faults.strip()


@needs_posix
@pytest.mark.parametrize(
    "when", [STOPPED_AT_THE_FIRST, STOPPED_WHILE_THEY_START], ids=["at the first", "as they start"]
)
def test_ctrl_c_stops_every_process_and_leaves_nothing(tmp_path: Path, once: Path, when: str) -> None:
    assert stopped(once, tmp_path / "R", by=when) == (130, "", "bubblegrade: stopped")
    assert not (tmp_path / "R").exists()


@needs_posix
def test_no_worker_outlives_a_run_that_is_killed(tmp_path: Path, once: Path) -> None:
    status, said, _ = stopped(once, tmp_path / "R", "--resume")
    assert (status, said) == (-signal.SIGKILL, "")
    assert set(contents(tmp_path / "R")) == {"run.journal"}


# Going on after a kill

# One process that has loaded the libraries; each run is a fork of it, which kills itself on reaching one of its own
# lines of code: any point between two statements that write the result can be hit, and no clock decides.
KILLED = """
import json, os, random, signal, sys
from pathlib import Path
import cv2
from bubblegrade.commands import main
import bubblegrade.runs.many, bubblegrade.runs.one, bubblegrade.show.tables

cups, out, seed, rounds = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4])
WATCHED = tuple(f"bubblegrade{os.sep}{name}" for name in
    (f"results{os.sep}folder.py", f"results{os.sep}journal.py", f"results{os.sep}whole.py", f"results{os.sep}run.py",
     f"runs{os.sep}many.py"))
cv2.setNumThreads(1)
grade = bubblegrade.runs.one.grade

def run(folder, lines, resume):
    # Return how the run ended, how many lines it ran and how many photographs it began to grade.
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        def trace(frame, event, _):
            if not frame.f_code.co_filename.endswith(WATCHED):
                return None
            if event == "line":
                run.left -= 1
                os.write(writer, b"l")
                if run.left == 0:
                    os.kill(os.getpid(), signal.SIGKILL)
            return trace
        def unwatched(*arguments, **more):  # grading writes nothing, and is three times as slow while it is traced
            os.write(writer, b"g")
            sys.settrace(None)
            try:
                return grade(*arguments, **more)
            finally:
                sys.settrace(trace)
        bubblegrade.runs.one.grade = unwatched
        run.left = lines
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        sys.settrace(trace)
        main(["grade", str(cups), "--out", str(folder), "--jobs", "1", *resume])
    os.close(writer)
    with os.fdopen(reader, "rb") as file:
        told = file.read()
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), told.count(b"l"), told.count(b"g")

whole, lines, graded = run(out / "counted", -1, [])
rng, rounds_told = random.Random(seed), []
for number in range(rounds):
    folder, told = out / f"killed-{number}", []
    for resume in ([], ["--resume"]):
        told.append(run(folder, rng.randrange(1, lines + 1), resume))
    told.append(run(folder, -1, ["--resume"]))
    rounds_told.append(told)
print(json.dumps({"whole": [whole, lines, graded], "rounds": rounds_told}))
"""


@needs_posix
def test_killed_at_any_point_a_run_goes_on_to_the_same_bytes_without_doing_work_twice(
    tmp_path: Path, photograph: Photograph
) -> None:
    for number in range(3):  # small, as each is graded again and again
        photograph(tmp_path / "cups" / f"{number}.png", casting_px=75.0 - number, size_px=200)
    assert bubblegrade("grade", tmp_path / "cups", "--out", tmp_path / "R", "--jobs", "1").exit_code == 0
    done = subprocess.run(
        [sys.executable, "-c", KILLED, tmp_path / "cups", tmp_path, str(SEED), str(ROUNDS)],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["whole"][::2] == [0, 3]
    kills = 0
    for number, rounds in enumerate(told["rounds"]):
        killed = [status == -signal.SIGKILL for status, _, _ in rounds]
        kills += sum(killed)
        assert [status for status, _, _ in rounds if status != -signal.SIGKILL] == [0] * killed.count(False)
        assert contents(tmp_path / f"killed-{number}") == contents(tmp_path / "R")
        # Each kill costs no more than the photograph in hand.
        assert sum(graded for _, _, graded in rounds) <= 3 + sum(killed)
    assert kills > ROUNDS


def test_a_run_that_was_cut_short_says_so_with_its_cure(tmp_path: Path, once: Path) -> None:
    (tmp_path / "R").mkdir()
    (tmp_path / "R" / "run.journal").write_text("")
    refused(
        bubblegrade("grade", once / "cups", "--out", tmp_path / "R"),
        "R holds a run that was cut short (run.journal): let grade go on with --resume, or begin again with --replace",
    )
    refused(
        bubblegrade("grade", once / "cups", "--out", tmp_path / "R", "--resume"), "run.journal was not written by this"
    )
    assert bubblegrade("grade", once / "cups", "--out", tmp_path / "R", "--replace").exit_code == 0
    assert contents(tmp_path / "R") == contents(once / "R")


def test_resuming_from_the_start_is_an_ordinary_run(tmp_path: Path, once: Path) -> None:
    result = bubblegrade("grade", once / "cups", "--out", tmp_path / "R", "--resume")
    assert (result.exit_code, result.stderr) == (0, "")
    assert contents(tmp_path / "R") == contents(once / "R")
    again = bubblegrade("grade", once / "cups", "--out", tmp_path / "R", "--resume")
    assert (again.exit_code, again.stdout) == (0, "3 photographs graded before: see castings.csv\n")
    assert contents(tmp_path / "R") == contents(once / "R")


def test_a_photograph_that_is_gone_since_stays_in_the_results_and_is_named(tmp_path: Path, once: Path) -> None:
    shutil.copytree(once / "cups", tmp_path / "cups")
    shutil.copytree(once / "R", tmp_path / "R")
    gone, *rest = sorted((tmp_path / "cups").iterdir())
    gone.unlink()
    result = bubblegrade("grade", tmp_path / "cups", "--out", tmp_path / "R", "--resume")
    assert result.exit_code == 0
    assert f"1 photograph of them not among these, kept all the same: {gone.stem}-marked.jpg" in result.stdout
    assert len((tmp_path / "R" / "castings.csv").read_text().splitlines()) == 1 + 1 + len(rest)


@pytest.mark.parametrize("options", [[], ["--resume"], ["--report", "report.html"]], ids=" ".join)
def test_ctrl_c_keeps_what_is_finished_and_says_how_to_go_on(
    tmp_path: Path, once: Path, options: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with ctrl_c_after(2):  # the journal is begun and the first picture written
        result = bubblegrade("grade", once / "cups", "--out", tmp_path / "R", *options)
    said = f"stopped: what is finished stays in {tmp_path / 'R'}, go on with the same command and --resume"
    said += ", without --report" if "--report" in options else ""
    assert (result.exit_code, result.stderr.strip()) == (130, f"bubblegrade: {said}")
    assert sorted(contents(tmp_path / "R")) == ["0-marked.jpg", "run.journal"]
    refused(bubblegrade("grade", once / "cups", "--out", tmp_path / "R"), "holds a run that was cut short")
    assert bubblegrade("grade", once / "cups", "--out", tmp_path / "R", "--resume").exit_code == 0
    assert contents(tmp_path / "R") == contents(once / "R")


@pytest.mark.parametrize("files", [0, 1], ids=["nothing", "the journal"])
def test_ctrl_c_before_the_first_photograph_is_finished_leaves_nothing(tmp_path: Path, once: Path, files: int) -> None:
    with ctrl_c_after(files):
        result = bubblegrade("grade", once / "cups", "--out", tmp_path / "R")
    assert (result.exit_code, result.stderr.strip()) == (130, "bubblegrade: stopped")
    assert not (tmp_path / "R").exists()


def test_ctrl_c_while_results_are_replaced_leaves_the_old_ones(tmp_path: Path, once: Path) -> None:
    shutil.copytree(once / "R", tmp_path / "R")
    with ctrl_c_after(1):
        result = bubblegrade("grade", once / "cups", "--out", tmp_path / "R", "--replace")
    assert (result.exit_code, result.stderr.strip()) == (130, "bubblegrade: stopped")
    assert contents(tmp_path / "R") == contents(once / "R")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--resume", "--replace"], "give --replace or --resume, not both"),
        (["--resume", "--report", "r.html"], "--report shows what this run grades, and --resume takes some over"),
        (["--resume", "--mm-per-px", "0.05"], "--resume needs the same, or begin again with --replace"),
    ],
)
def test_what_cannot_go_on_is_one_line(tmp_path: Path, once: Path, options: list[str], words: str) -> None:
    bubblegrade("grade", once / "cups" / "0.png", "--out", tmp_path / "R")
    before = contents(tmp_path / "R")
    refused(bubblegrade("grade", once / "cups", "--out", tmp_path / "R", *options), words)
    assert contents(tmp_path / "R") == before


# Watching


def stopped_after(monkeypatch: pytest.MonkeyPatch, looks: int) -> None:
    """Let Ctrl-C be pressed after so many looks into the folder, and no time pass between them."""
    left = iter(range(looks))

    def wait(_: object) -> None:
        if next(left, None) is None:
            raise KeyboardInterrupt

    monkeypatch.setattr("bubblegrade.runs.looks.Pace.wait", wait)


def test_a_watched_folder_gives_a_line_a_casting_and_the_result_of_the_folder(
    tmp_path: Path, once: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stopped_after(monkeypatch, 3)
    result = bubblegrade("grade", "--watch", once / "cups", "--out", tmp_path / "R")
    assert (result.exit_code, result.stderr) == (0, "")
    assert [line.split(", ")[0] for line in result.stdout.splitlines()] == [f"{n}.png: 5 voids" for n in range(3)]
    assert contents(tmp_path / "R") == contents(once / "R")


def test_a_watch_goes_on_only_if_asked(tmp_path: Path, once: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    bubblegrade("grade", once / "cups" / "0.png", "--out", tmp_path / "R")
    refused(bubblegrade("grade", "--watch", once / "cups", "--out", tmp_path / "R"), "holds a result already")
    stopped_after(monkeypatch, 3)
    result = bubblegrade("grade", "--watch", once / "cups", "--out", tmp_path / "R", "--resume", "--json")
    assert result.stdout_bytes == (tmp_path / "R" / "run.json").read_bytes()
    assert contents(tmp_path / "R") == contents(once / "R")


def test_a_watch_with_a_photograph_that_cannot_be_read_is_done_in_part(
    tmp_path: Path, once: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "tether").mkdir()
    (tmp_path / "tether" / "0.png").write_bytes((once / "cups" / "0.png").read_bytes())
    (tmp_path / "tether" / "1.png").write_bytes(b"no picture")
    stopped_after(monkeypatch, STEADY)
    result = bubblegrade("grade", "--watch", tmp_path / "tether", "--out", tmp_path / "R")
    assert result.exit_code == 3
    assert result.stderr.startswith("bubblegrade: 1.png is not a JPEG, PNG or TIFF picture")


def test_a_watch_in_which_nothing_came_is_nothing_usable(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    stopped_after(monkeypatch, 2)
    (tmp_path / "tether").mkdir()
    assert bubblegrade("grade", "--watch", tmp_path / "tether", "--out", tmp_path / "R").exit_code == 2
    assert contents(tmp_path) == {}


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--replace"], "--replace cannot be had with --watch"),
        (["--again", "a.jpg"], "--again cannot be had with --watch"),
        (["--report", "r.html"], "--report cannot be had with --watch"),
        (["a.jpg"], "leave out the photographs named beside it"),
    ],
)
def test_what_a_watch_cannot_have_is_one_line(tmp_path: Path, options: list[str], words: str) -> None:
    refused(bubblegrade("grade", "--watch", tmp_path, "--out", tmp_path / "R", *options), words)
    assert not (tmp_path / "R").exists()


def test_a_watched_folder_that_does_not_exist_is_one_line(tmp_path: Path) -> None:
    refused(bubblegrade("grade", "--watch", tmp_path / "gone", "--out", tmp_path / "R"), "gone is no folder")
