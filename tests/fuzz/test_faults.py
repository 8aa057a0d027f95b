"""Disks that are full or read-only, clocks set back, two runs at once, links, hostile names, bombs: nothing is lost."""

from __future__ import annotations

import csv
import errno
import io
import os
import resource
import struct
import subprocess
import sys
import tempfile
import time
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from bubblegrade.commands import main
from bubblegrade.errors import OutputError, PhotoError
from bubblegrade.photo.reading import read_photo
from bubblegrade.records.checking import faults
from bubblegrade.records.log import open_log
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.lock import Lock
from bubblegrade.runs.inputs import marked_name
from bubblegrade.show.printable import printable
from tests.command_line import contents, full_disk
from tests.conftest import drawn_cup
from tests.fuzz import seeds

SMALL = cv2.imencode(".png", drawn_cup(casting_px=75.0, size_px=200))[1].tobytes()
NOBODY = 65534


def run(*words: object) -> Result:
    """Run a command of bubblegrade."""
    return CliRunner().invoke(main, [str(word) for word in words])


def grade(*words: object) -> Result:
    """Grade in this process."""
    return run("grade", *words, "--jobs", "1")


def one_line(result: Result, *words: str) -> None:
    """Check that a run ended with status 2 and one line on stderr that has all `words`."""
    assert result.exit_code == 2, result.output
    assert result.stderr.count("\n") == 1, result.stderr
    assert result.stderr.startswith("bubblegrade: ")
    for word in words:
        assert word in result.stderr


@contextmanager
def unprivileged() -> Iterator[None]:
    """Give up the rights of root, to whom nothing is read-only."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.fixture
def shared() -> Iterator[Path]:
    """Yield a folder that everyone may enter and only its owner may write to."""
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        place.chmod(0o555)
        yield place
        place.chmod(0o755)


@pytest.fixture
def cup(tmp_path: Path) -> Path:
    """Return a photograph of a small drawn cup."""
    place = tmp_path / "cup.png"
    place.write_bytes(SMALL)
    return place


def test_a_disk_that_fills_up_while_grading_is_one_line_and_leaves_nothing(tmp_path: Path, cup: Path) -> None:
    with full_disk(4096):
        result = grade(cup, "--out", tmp_path / "R")
    one_line(result, "cannot be written (File too large)")
    assert not (tmp_path / "R").exists()


def test_a_disk_that_fills_up_under_the_log_leaves_what_was_committed(tmp_path: Path) -> None:
    log = tmp_path / "log.sqlite"
    assert run("log", "add", "--resin", "Clear One", "--log", log).exit_code == 0
    with full_disk(log.stat().st_size + 8192):
        one_line(run("log", "add", "--remarks", "x" * 100_000, "--log", log), "log.sqlite")
    with open_log(log) as held:
        assert list(faults(held.connection)) == []
        assert held.connection.execute("SELECT resin FROM casting").fetchall()[0][0] == "Clear One"


def test_a_terminal_or_pipe_without_room_is_one_line() -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-c", "from bubblegrade.commands import main; main()", "expect", "40psi"],
            stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr.startswith("bubblegrade: what is printed cannot be read or written (No space left on device)")
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize(
    "words",
    [
        ("grade", "CUP", "--out", "PLACE/R", "--jobs", "1"),
        ("card", "--out", "PLACE/card.svg"),
        ("log", "add", "--resin", "Clear One", "--log", "PLACE/log.sqlite"),
        ("inspect", "--write-limits", "PLACE/a.toml", "--preset", "pendant"),
    ],
)
def test_a_read_only_place_is_one_line(shared: Path, words: tuple[str, ...]) -> None:
    with tempfile.TemporaryDirectory() as name:
        photograph = Path(name, "cup.png")
        photograph.write_bytes(SMALL)
        photograph.parent.chmod(0o755)
        asked = [word.replace("CUP", str(photograph)).replace("PLACE", str(shared)) for word in words]
        run(*(word.replace(str(shared), str(Path(name, "warm"))) for word in asked))  # imports all that it needs
        with unprivileged():
            result = run(*asked)
    one_line(result, str(shared))
    assert contents(shared) == {}


def test_a_clock_set_back_changes_no_order_and_loses_nothing(tmp_path: Path) -> None:
    log = tmp_path / "log.sqlite"
    for seconds in (1_800_000_000.0, 1_000_000_000.0, 0.0):
        with open_log(log, create=True, clock=lambda: seconds) as held:  # noqa: B023 - called here
            held.add({"resin": "Clear One"})
            held.correct(1, {"resin": f"at {seconds:g}"})
    with open_log(log) as held:
        assert list(faults(held.connection)) == []
        assert [row[0] for row in held.connection.execute("SELECT id FROM casting ORDER BY id")] == [1, 2, 3]
        stated = held.connection.execute("SELECT old, new FROM history ORDER BY id").fetchall()
        assert [row["new"] for row in stated] == ["at 1.8e+09", "at 1e+09", "at 0"]
        assert [row["old"] for row in stated][1:] == ["at 1.8e+09", "at 1e+09"]


def test_a_result_does_not_know_what_time_it_is(tmp_path: Path, cup: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert grade(cup, "--out", tmp_path / "now").exit_code == 0
    monkeypatch.setattr(time, "time", lambda: 0.0)
    os.utime(cup, (2e9, 2e9))
    assert grade(cup, "--out", tmp_path / "then").exit_code == 0
    assert contents(tmp_path / "now") == contents(tmp_path / "then")


def test_two_runs_into_one_folder_are_one_run_and_one_line(tmp_path: Path, cup: Path) -> None:
    for more in ((), ("--replace",), ("--resume",)):
        with ResultFolder.prepare(tmp_path / "R", replace=True) as first:
            first.write_text("voids.csv", "first")
            before = contents(tmp_path / "R")
            one_line(grade(cup, "--out", tmp_path / "R", *more), "R is being written by another run: wait for its end")
            assert contents(tmp_path / "R") == before
    assert contents(tmp_path / "R") == {"voids.csv": b"first"}


def test_two_records_in_one_folder_are_written_side_by_side(tmp_path: Path) -> None:
    for replace in (False, True):
        with (
            ResultFolder.prepare(tmp_path, replace=replace, record="a.html") as a,
            ResultFolder.prepare(tmp_path, replace=replace, record="b.html") as b,
        ):
            a.write_text("a.html", f"a {replace}")
            b.write_text("b.html", f"b {replace}")
    assert contents(tmp_path) == {"a.html": b"a True", "b.html": b"b True"}


def test_the_lock_of_a_killed_run_holds_nobody_up(tmp_path: Path) -> None:
    script = """
import os, signal, sys
from pathlib import Path
from bubblegrade.results.folder import ResultFolder
folder = ResultFolder.prepare(Path(sys.argv[1]), replace=False)
os.kill(os.getpid(), signal.SIGKILL)
"""
    assert subprocess.run([sys.executable, "-c", script, tmp_path], check=False).returncode < 0
    (left,) = contents(tmp_path)
    assert left.endswith(".lock")
    with ResultFolder.prepare(tmp_path, replace=False) as folder:
        folder.write_text("voids.csv", "")
    assert set(contents(tmp_path)) == {"voids.csv"}


def test_a_disk_that_knows_no_locks_is_written_to_all_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def unknown(*_: object) -> None:
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr("bubblegrade.results.lock.fcntl.flock", unknown)
    lock = Lock.take(tmp_path / "a.lock")
    assert lock is not None
    lock.release()
    assert contents(tmp_path) == {}


def test_a_link_in_the_lock_s_place_is_refused_and_not_followed(tmp_path: Path) -> None:
    (tmp_path / "outside").mkdir()
    (tmp_path / "R").mkdir()
    (tmp_path / "R" / ".bubblegrade-2dfe744f.lock").symlink_to(tmp_path / "outside" / "made")
    with pytest.raises(OutputError, match=r"R cannot be written \(Too many levels of symbolic links\)"):
        ResultFolder.prepare(tmp_path / "R", replace=False)
    assert contents(tmp_path / "outside") == {}


def test_links_in_a_folder_of_photographs_are_walked_once_and_dangling_ones_passed_over(
    tmp_path: Path, cup: Path
) -> None:
    photographs, outside = tmp_path / "photos", tmp_path / "outside"
    photographs.mkdir()
    outside.mkdir()
    (outside / "far.png").write_bytes(SMALL)
    (photographs / "a.png").write_bytes(SMALL)
    (photographs / "loop").symlink_to(photographs)
    (photographs / "self.png").symlink_to("self.png")
    (photographs / "dangling.png").symlink_to("nowhere.png")
    (photographs / "folder").symlink_to(outside)
    (photographs / "linked.png").symlink_to(cup)
    result = grade(photographs, "--out", tmp_path / "R")
    assert (result.exit_code, result.stderr) == (0, "")
    assert {name for name in contents(tmp_path / "R") if name.endswith(".jpg")} == {"a-marked.jpg", "linked-marked.jpg"}
    assert contents(outside) == {"far.png": SMALL}


def test_a_link_out_of_the_result_folder_is_not_written_through(tmp_path: Path, cup: Path) -> None:
    victim = tmp_path / "mine.txt"
    victim.write_text("mine")
    (tmp_path / "R").mkdir()
    (tmp_path / "R" / "cup-marked.jpg").symlink_to(victim)
    assert grade(cup, "--out", tmp_path / "R").exit_code == 0
    assert victim.read_text() == "mine"
    assert not (tmp_path / "R" / "cup-marked.jpg").is_symlink()


NAMES = (
    b"a\nb.png", b"=cmd|'!A1.png", b"-rf.png", b"\"q'.png", b"<b>&.png", b" .png", b"sur\xff\xfe.png",
    b"@SUM(A1),;.png", "\N{RIGHT-TO-LEFT OVERRIDE}gnp.exe.png".encode(), b"n" * 251 + b".png",
    "\N{SNOWMAN}".encode() * 83 + b".png",
)  # fmt: skip


def test_hostile_names_are_graded_and_run_nothing_in_a_spreadsheet_or_terminal(tmp_path: Path) -> None:
    for name in NAMES:
        Path(os.fsdecode(bytes(tmp_path) + b"/" + name)).write_bytes(SMALL)
    result = grade(tmp_path, "--out", tmp_path / "R")
    assert (result.exit_code, result.stderr) == (0, "")
    rows = list(csv.DictReader(io.StringIO((tmp_path / "R" / "castings.csv").read_text("utf-8"), newline="")))
    assert len(rows) == len(NAMES)
    for row in rows:
        for cell in row.values():
            assert not cell.startswith(("=", "@", "\t", "\r"))
            assert "\n" not in cell
            assert not cell.startswith(("+", "-")) or cell[1:].replace(".", "").replace("e-", "").isdigit()
    assert "\N{RIGHT-TO-LEFT OVERRIDE}" not in result.stdout
    assert len([name for name in contents(tmp_path / "R") if name.endswith("-marked.jpg")]) == len(NAMES)


def test_a_name_as_long_as_can_be_has_a_marked_picture_of_its_own() -> None:
    long = marked_name("cups/" + "n" * 251 + ".png"), marked_name("cups/" + "n" * 250 + "m.png")
    assert [len(Path(name).name) for name in long] == [255, 255]
    assert long[0] != long[1]
    assert len(os.fsencode(Path(marked_name("\N{SNOWMAN}" * 83 + ".png")).name)) <= 255
    assert printable("\N{RIGHT-TO-LEFT OVERRIDE}a") == "\\u202ea"


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def _png(cols: int, rows: int, *more: bytes, depth: int = 8, kind: int = 2) -> bytes:
    """Return a PNG (ISO/IEC 15948) that claims a size and holds next to nothing of it."""
    head = struct.pack(">IIBBBBB", cols, rows, depth, kind, 0, 0, 0)
    parts = (_chunk(b"IHDR", head), *more, _chunk(b"IDAT", zlib.compress(bytes(1000))), _chunk(b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def _bomb() -> bytes:
    """Return 64 MB of noughts, deflated to 64 kB."""
    return zlib.compress(bytes(64_000_000), 9)


def _tiff_claiming(cols: int, rows: int) -> bytes:
    data = io.BytesIO()
    Image.fromarray(np.zeros((70, 70), np.uint8)).save(data, "TIFF")
    return (
        data.getvalue()
        .replace(struct.pack("<HHIHH", 256, 4, 1, 70, 0), struct.pack("<HHII", 256, 4, 1, cols))
        .replace(struct.pack("<HHIHH", 257, 4, 1, 70, 0), struct.pack("<HHII", 257, 4, 1, rows))
    )


BOMBS: dict[str, Callable[[], bytes]] = {
    "wide.png": lambda: _png(2_000_000, 100),
    "tall.png": lambda: _png(100, 2_000_000),
    "large.png": lambda: _png(19_999, 19_999, depth=16),
    "profile.png": lambda: _png(100, 100, _chunk(b"iCCP", b"a\0\0" + _bomb())),
    "text.png": lambda: _png(100, 100, _chunk(b"zTXt", b"a\0\0" + _bomb())),
    "claims.tif": lambda: _tiff_claiming(19_000, 19_000),
    "most.tif": lambda: _tiff_claiming(2**32 - 1, 2**32 - 1),
}


@pytest.mark.parametrize("name", sorted(BOMBS))
def test_a_picture_that_claims_more_than_it_holds_is_one_line_in_bounded_memory(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(BOMBS[name]())
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises(PhotoError, match=rf"^{name} .+: .+"):
        read_photo(tmp_path / name, name=name)
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 400_000  # kB; the header's claim would take GB


def test_hostile_notes_and_profiles_leave_the_picture_as_it_is(tmp_path: Path) -> None:
    whole = Image.fromarray(seeds.colour())
    whole.save(tmp_path / "a.jpg", quality=95)
    plain = read_photo(tmp_path / "a.jpg").codes
    # A block of notes that names itself as its next and its own part, a text of 4 GB, a time that is none.
    ring = b"Exif\0\0II*\0" + struct.pack("<I", 8) + struct.pack("<H", 4)
    for tag, kind, count, value in (
        (0x8769, 4, 1, 8),
        (0x010F, 2, 2**32 - 1, 8),
        (0x0112, 3, 1, 999),
        (0x9003, 2, 3, 8),
    ):
        ring += struct.pack("<HHII", tag, kind, count, value)
    ring += struct.pack("<I", 8)
    for exif, profile in ((ring, b""), (b"Exif\0\0MM\0*" + b"\xff" * 200, b"\0" * 128 + b"\xff" * 400)):
        whole.save(tmp_path / "a.jpg", quality=95, exif=exif, icc_profile=profile)
        photo = read_photo(tmp_path / "a.jpg")
        np.testing.assert_array_equal(photo.codes, plain)
        assert photo.noted.taken is None


def test_formulas_typed_into_the_log_leave_it_as_text_and_come_back(tmp_path: Path) -> None:
    typed = (
        "=1+1",
        "\uff1d1",
        "+2",
        "-3+4",
        "@SUM(A1)",
        "'=1",
        "\t=1",
        "a\n=1",
        'a","=1',
        "a;=1",
        "a;\\=1",
        "=;@",
        "a;'=1",
    )
    log, out, back = tmp_path / "log.sqlite", tmp_path / "out", tmp_path / "back.sqlite"
    with open_log(log, create=True) as held:
        for text in typed:
            held.add({"remarks": text})
        kept = [row[0] for row in held.connection.execute("SELECT remarks FROM casting ORDER BY id")]
    assert run("log", "export", out, "--log", log).exit_code == 0
    rows = list(csv.reader(io.StringIO((out / "casting.csv").read_text("utf-8"), newline="")))
    cells = [part for row in rows for cell in row for part in cell.split(";")]  # as some countries' spreadsheets do
    assert not any(cell.startswith(("=", "\uff1d", "@", "\t", "\r", "+1", "-3")) for cell in cells)
    assert run("log", "import", out, "--log", back).exit_code == 0
    with open_log(back) as held:
        assert [row[0] for row in held.connection.execute("SELECT remarks FROM casting ORDER BY id")] == kept
