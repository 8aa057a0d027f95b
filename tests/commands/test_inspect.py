"""`bubblegrade inspect` as a user runs it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner, Result

from bubblegrade.commands import main
from bubblegrade.commands.inspect import PRESET_NAMES
from bubblegrade.corrected.changes import Removed, Step
from bubblegrade.drawn.lure_faults import limits_text
from bubblegrade.drawn.lures import Lure, draw_lure, outline_of
from bubblegrade.grading_run import Request
from bubblegrade.results.corrections import BENCH_FOLDER, add_step
from bubblegrade.runs.inputs import Source
from bubblegrade.runs.limit_presets import PRESETS
from bubblegrade.runs.one import Graded, Task, graded
from bubblegrade.settings import Settings

SCALE = ("--mm-per-px", "0.05")
GROWN = Path(__file__).parents[1] / "truth" / "grown"
FAULTY = ((0.25, 0.6, 18.0),)


def run(*args: object) -> Result:
    return CliRunner().invoke(main, ["inspect", *map(str, args)])


def photograph(path: Path, **lure: object) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(cv2.imencode(".png", draw_lure(Lure(**lure)).picture)[1].tobytes())
    return path


@pytest.fixture(name="limits")
def _limits(tmp_path: Path) -> Path:
    (tmp_path / "lure.toml").write_text(limits_text(), "utf-8")
    return tmp_path / "lure.toml"


def test_sides_are_joined_and_the_worst_decides(tmp_path: Path, limits: Path) -> None:
    photograph(tmp_path / "in" / "a-left.png")
    photograph(tmp_path / "in" / "a-right.png", mirrored=True, voids=FAULTY)
    photograph(tmp_path / "in" / "b-left.png", turned_degrees=140.0)
    (tmp_path / "in" / "b-right.png").write_bytes(b"")
    result = run(tmp_path / "in", "--limits", limits, "--out", tmp_path / "out", "--pieces", "{piece}-{side}", *SCALE,
                 "--batch", "120", "--quality-limit", "1.0")  # fmt: skip
    assert result.exit_code == 1
    assert "b-right.png is empty" in result.stderr
    assert "face: void of" in result.stdout
    assert "2 inspected: 1 fail, 1 look again" in result.stdout
    assert "batch of 120: refuse (1 of 2 fail, 0 accepted)" in result.stdout
    record = json.loads((tmp_path / "out" / "inspect.json").read_text("utf-8"))
    assert record["files"] == sorted(place.name for place in (tmp_path / "out").iterdir())
    assert [(piece["piece"], piece["verdict"]) for piece in record["pieces"]] == [("a", "fail"), ("b", "look again")]
    assert [one["lie"]["mirrored"] for one in record["photographs"]] == [False, True, False]
    assert cv2.imread(str(tmp_path / "out" / "a-right-inspected.jpg")) is not None


def test_a_piece_of_which_a_side_is_missing_or_misnamed_does_not_pass(tmp_path: Path, limits: Path) -> None:
    for name in ("1-left", "1-right", "2-left", "2-Right", "3-left", "4-left", "4-rigth"):
        turned = 20.0 * int(name[0])  # copies would count once
        photograph(tmp_path / "in" / f"{name}.png", mirrored=name[2] in "rR", turned_degrees=turned)
    asked = (tmp_path / "in", "--limits", limits, "--pieces", "{piece}-{side}", *SCALE)
    result = run(*asked, "--out", tmp_path / "o", "--json")
    pieces = {one["piece"]: one for one in json.loads(result.stdout)["pieces"]}
    assert [pieces[name]["verdict"] for name in "1234"] == ["pass", "pass", "look again", "look again"]
    words = "no photograph shows its side 'right', as of 2 of 4 pieces: photograph it, or mend its name"
    assert pieces["3"]["missing"] == pieces["4"]["missing"] == [words]
    assert result.exit_code == 3
    few = run(*asked, "--out", tmp_path / "f", "--batch", "3", "--quality-limit", "1.0")
    assert few.stderr.strip().endswith("drawn from: check the names of 3, 4, which lack a side that others have")


def test_names_of_one_piece_that_letters_alone_tell_apart_are_refused(tmp_path: Path, limits: Path) -> None:
    (tmp_path / "in").mkdir()
    photograph(tmp_path / "in" / "Jig 7-left.png")
    photograph(tmp_path / "in" / "jig 7-right.png")
    result = run(tmp_path / "in", "--limits", limits, "--out", tmp_path / "o", "--pieces", "{piece}-{side}", *SCALE)
    assert result.exit_code == 2
    assert "Jig 7 and jig 7 are one piece but for large and small letters: write it alike" in result.stderr
    assert not (tmp_path / "o").exists()


def test_what_passes_is_0_and_is_the_same_twice(tmp_path: Path, limits: Path) -> None:
    place = photograph(tmp_path / "a.png")
    first, again = (run(place, "--limits", limits, "--out", tmp_path / name, *SCALE, "--json") for name in ("b", "c"))
    assert (first.exit_code, again.exit_code, first.stderr) == (0, 0, "")
    assert first.stdout == again.stdout
    for name in ("a-inspected.jpg", "inspect.csv", "inspect.json"):
        assert (tmp_path / "b" / name).read_bytes() == (tmp_path / "c" / name).read_bytes()


def test_what_is_to_be_looked_at_is_3(tmp_path: Path, limits: Path) -> None:
    limits.write_text('[zones.a]\nshape = "all"\nlargest = "0.1mm"', "utf-8")
    assert run(photograph(tmp_path / "a.png"), "--limits", limits, "--out", tmp_path / "o", *SCALE).exit_code == 3


def test_a_piece_whose_other_side_does_not_exist_does_not_pass(tmp_path: Path, limits: Path) -> None:
    left, right = photograph(tmp_path / "a-left.png"), tmp_path / "a-right.png"
    asked = ("--pieces", "{piece}-{side}", "--limits", limits, "--out", tmp_path / "o", *SCALE)
    result = run(left, right, *asked)
    assert result.exit_code == 3
    assert "1 inspected: 1 look again" in result.stdout
    (piece,) = json.loads((tmp_path / "o" / "inspect.json").read_text("utf-8"))["pieces"]
    assert piece["missing"] == [f"{right} does not exist: check the name"]


def test_a_mark_on_every_piece_is_the_moulds(tmp_path: Path, limits: Path) -> None:
    rng = np.random.default_rng(2)
    lines = ["photo,piece"]
    for number in range(4):
        own = (float(rng.uniform(0.4, 0.8)), float(rng.uniform(0.3, 0.5)), 12.0)
        place = photograph(tmp_path / f"{number}.png", voids=(*FAULTY, own), turned_degrees=80.0 * number, seed=number)
        lines.append(f"{place.name},jig {number}")
    (tmp_path / "s.csv").write_text("\n".join(lines), "utf-8")
    result = run("--sheet", tmp_path / "s.csv", "--limits", limits, "--out", tmp_path / "out", *SCALE)
    assert result.exit_code == 3
    assert "4 inspected: 4 look again" in result.stdout
    assert "mould: a mark 25 % along" in result.stdout
    record = json.loads((tmp_path / "out" / "inspect.json").read_text("utf-8"))
    assert record["mould_marks"][0]["pieces"] == [f"jig {number}" for number in range(4)]
    assert {fault["rule"] for one in record["photographs"] for fault in one["faults"]} == {"mould"}


def test_zones_drawn_on_a_reference_follow_the_other_pieces(tmp_path: Path, limits: Path) -> None:
    photograph(tmp_path / "ref.png")
    corners = "[[140, 80], [170, 80], [170, 190], [140, 190]]"  # around the faulty void in the reference
    limits.write_text(
        f'reference = "ref.png"\n[zones.spot]\nshape = "polygon"\ncorners_px = {corners}\nlargest = "0.6mm"\n', "utf-8"
    )
    faulty = photograph(tmp_path / "a.png", voids=FAULTY, turned_degrees=100.0, mirrored=True)
    other = photograph(tmp_path / "b.png", voids=((0.6, 0.4, 18.0),), turned_degrees=100.0)
    assert run(faulty, "--limits", limits, "--out", tmp_path / "o", *SCALE).exit_code == 1
    assert run(other, "--limits", limits, "--out", tmp_path / "p", *SCALE).exit_code == 0
    (tmp_path / "ref.png").rename(tmp_path / "renamed.png")
    lost = run(other, "--limits", limits, "--out", tmp_path / "q", *SCALE)
    assert lost.exit_code == 2
    assert lost.stderr == f"bubblegrade: {tmp_path / 'ref.png'} (reference) does not exist: check the name\n"


@pytest.mark.parametrize(("degrees", "mirrored"), [(90.0, False), (180.0, False), (37.0, True), (-90.0, True)])
def test_zones_follow_however_the_reference_itself_lies(
    tmp_path: Path, limits: Path, degrees: float, *, mirrored: bool
) -> None:
    lie = {"turned_degrees": degrees, "mirrored": mirrored}
    photograph(tmp_path / "ref.png", **lie)
    drawn = draw_lure(Lure(voids=FAULTY, turned_degrees=degrees, mirrored=mirrored))
    x, y = drawn.x_px[0], drawn.y_px[0]
    corners = [[round(x + dx), round(y + dy)] for dx, dy in ((-8, -8), (8, -8), (8, 8), (-8, 8))]
    limits.write_text(
        f'reference = "ref.png"\n[zones.spot]\nshape = "polygon"\ncorners_px = {corners}\nlargest = "0.6mm"\n', "utf-8"
    )
    faulty = photograph(tmp_path / "a.png", voids=FAULTY)
    # where the zone would land if head, belly or both were taken for the other end
    other = photograph(tmp_path / "b.png", voids=((0.75, 0.6, 18.0), (0.25, 0.4, 18.0), (0.75, 0.4, 18.0)))
    assert run(faulty, "--limits", limits, "--out", tmp_path / "o", *SCALE).exit_code == 1
    assert run(other, "--limits", limits, "--out", tmp_path / "p", *SCALE).exit_code == 0


@pytest.mark.parametrize("radius", [24, 40])
def test_the_opening_in_a_loop_of_wire_is_no_void(tmp_path: Path, limits: Path, radius: int) -> None:
    """An eye's loop is 3 to 5 mm wide, of wire of 0.7 mm (common practice)."""
    lure = Lure(size=2.0)
    picture, outline = draw_lure(lure).picture, outline_of(lure)
    x, y = outline[np.argmax(outline[:, 0])]
    cv2.circle(picture, (round(x) + radius, round(y)), radius, (8, 8, 8), 14, cv2.LINE_AA)
    cv2.line(picture, (round(x) - 20, round(y)), (round(x) + 3, round(y)), (8, 8, 8), 14, cv2.LINE_AA)
    cv2.imwrite(str(tmp_path / "looped.png"), picture)
    limits.write_text('[zones.all]\nshape = "all"\nlargest = "0.6mm"\n', "utf-8")
    result = run(tmp_path / "looped.png", "--limits", limits, "--out", tmp_path / "o", *SCALE)
    assert result.exit_code != 1, result.output  # the wire's end in the resin may be looked at again


def test_a_copy_of_a_photograph_is_no_further_piece_of_a_sample(tmp_path: Path, limits: Path) -> None:
    """Two of a batch of 8 are drawn at 6.5 % (ISO 2859-1, letter A): one and its copy are not two."""
    one = photograph(tmp_path / "jig 1.png")
    copy = shutil.copy(one, tmp_path / "jig 1 (1).png")
    asked = ("--limits", limits, *SCALE, "--batch", 8, "--quality-limit", 6.5)
    result = run(one, copy, *asked, "--out", tmp_path / "o")
    assert result.exit_code == 3
    assert "jig 1 (1).png is a copy of jig 1.png" in " ".join(result.stdout.split())
    assert "batch of 8: undecided" in result.stdout
    # Its picture would tell a verdict beside the "look again" of the piece.
    assert [path.name for path in (tmp_path / "o").glob("*.jpg")] == ["jig 1-inspected.jpg"]
    assert "jig 1 (1)-inspected.jpg" not in json.loads((tmp_path / "o" / "inspect.json").read_text("utf-8"))["files"]
    other = photograph(tmp_path / "jig 2.png", seed=2)
    assert "batch of 8: accept" in run(one, other, *asked, "--out", tmp_path / "p").stdout


@pytest.mark.parametrize("preset", PRESETS)
def test_a_preset_is_written_once(tmp_path: Path, preset: str) -> None:
    place = tmp_path / "lure.toml"
    assert preset in PRESET_NAMES
    assert run("--write-limits", place, "--preset", preset).exit_code == 0
    assert place.read_text("utf-8") == PRESETS[preset]
    refused = run("--write-limits", place, "--preset", preset)
    assert refused.exit_code == 2
    assert "add --replace" in refused.stderr


@pytest.mark.parametrize(
    ("later", "status", "said"),
    [("cup-grown", 1, "grew: +"), ("cup-same", 0, "did not change: "), ("lure-same", 3, "cannot be told: ")],
)
def test_a_piece_that_came_back_is_compared(tmp_path: Path, later: str, status: int, said: str) -> None:
    result = run("--again", GROWN / "cup-first.jpg", GROWN / f"{later}.jpg", "--out", tmp_path / "out")
    assert (result.exit_code, result.stderr) == (status, "")
    assert said in result.stdout
    record = json.loads((tmp_path / "out" / "regrowth.json").read_text("utf-8"))
    assert record["files"] == sorted(place.name for place in (tmp_path / "out").iterdir())


def test_what_was_said_of_the_setup_stands_in_the_record_and_on_the_terminal(tmp_path: Path) -> None:
    both = (GROWN / "lure-first.jpg", GROWN / "lure-same.jpg")
    widths = []
    for said in ((), ("--same-setup",)):
        result = run("--again", *both, "--out", tmp_path / f"o{len(said)}", *said)
        assert (result.exit_code, "as you said, light, camera" in result.stdout) == (0, bool(said))
        record = json.loads((tmp_path / f"o{len(said)}" / "regrowth.json").read_text("utf-8"))
        assert (record["same_setup"], len(record["remarks"])) == (bool(said), len(said))
        widths.append(record["growth_share"]["high"] - record["growth_share"]["low"])
    assert widths[1] < 0.85 * widths[0]


@pytest.fixture(name="came_back")
def _came_back(tmp_path: Path) -> tuple[Path, Path]:
    """Return copies of a cup's photographs; from the earlier one the largest void was removed on the page."""
    earlier, later = (Path(shutil.copy(GROWN / f"cup-{name}.jpg", tmp_path)) for name in ("first", "same"))
    found = graded(Source(earlier, earlier.name, ""), Task("", Request(), Settings()), None)
    assert isinstance(found, Graded)
    folder = tmp_path / BENCH_FOLDER / earlier.name
    folder.mkdir(parents=True)
    largest = f"v{np.argmax(found.casting.voids.diameter_px)}"
    add_step(folder, found.casting, (), Step(1, "Ann", Removed(largest)))
    return earlier, later


def test_a_piece_that_came_back_is_compared_as_corrected_and_says_so(
    tmp_path: Path, came_back: tuple[Path, Path]
) -> None:
    pictures = []
    for earlier, out in ((GROWN / "cup-first.jpg", "as graded"), (came_back[0], "corrected")):
        result = run("--again", earlier, came_back[1], "--out", tmp_path / out)
        assert result.exit_code == 0
        pictures.append((tmp_path / out / "earlier-marked.jpg").read_bytes())
    assert "cup-first.jpg counts as corrected on the page, 1 change." in result.stdout
    assert pictures[0] != pictures[1]
    before, after = (
        json.loads((tmp_path / out / "regrowth.json").read_text("utf-8")) for out in ("as graded", "corrected")
    )
    assert (before["remarks"], after["remarks"]) == ([], ["cup-first.jpg counts as corrected on the page, 1 change."])
    assert after["earlier"]["voids"] == before["earlier"]["voids"] - 1
    assert len(after["pairs"]["stands_out"]) == len(before["pairs"]["stands_out"]) - 1
    assert after["new"] == before["new"]  # what a person said is no void is none in the later photograph either


def test_a_piece_is_not_said_to_be_unchanged_while_corrections_of_it_do_not_count(
    tmp_path: Path, came_back: tuple[Path, Path]
) -> None:
    (tmp_path / "coarse.toml").write_text("smallest_px = 8.0\n", "utf-8")
    asked = ("--settings", tmp_path / "coarse.toml", "--index", "1.52", "--out", tmp_path / "o")
    result = run("--again", *came_back, *asked)
    assert result.exit_code == 3
    assert json.loads((tmp_path / "o" / "regrowth.json").read_text("utf-8"))["settings"]["index"] == 1.52
    assert "cannot be told: " in result.stdout
    assert "cup-first.jpg: corrections on the page do not count here: " in " ".join(result.stdout.split())
    plain = run("--again", GROWN / "cup-first.jpg", came_back[1], *asked, "--replace")
    assert "did not change: " in plain.stdout


def test_nothing_usable_leaves_nothing(tmp_path: Path, limits: Path) -> None:
    (tmp_path / "a.png").write_bytes(b"")
    copied = shutil.copyfile(GROWN / "cup-first.jpg", tmp_path / "later.jpg")
    copy = run("--again", GROWN / "cup-first.jpg", copied, "--out", tmp_path / "o")
    assert copy.exit_code == 2
    assert f"{copied} is a copy of {GROWN / 'cup-first.jpg'}: name the photograph that was taken later" in copy.stderr
    missing = run("--again", GROWN / "cup-first.jpg", tmp_path / "a.png", "--out", tmp_path / "o")
    empty = run(tmp_path / "a.png", "--limits", limits, "--out", tmp_path / "o", *SCALE)
    assert (missing.exit_code, empty.exit_code) == (2, 2)
    assert "a.png is empty" in missing.stderr
    assert not (tmp_path / "o").exists()


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("a.png",), "add --out DIR"),
        (("a.png", "--out", "o"), "no limits are named"),
        (("--limits", "{limits}", "--out", "o"), "no photograph is named"),
        (("a.png", "--limits", "{limits}", "--out", "o"), "are in mm, which need a scale"),
        (("a.png", "--limits", "{limits}", "--out", "o", "--whole"), "--whole looks for no outline"),
        (("a.png", "--limits", "{limits}", "--out", "o", "--batch", "9"), "--batch says nothing alone"),
        (
            ("a.png", "--limits", "{limits}", "--out", "o", "--batch", "9", "--quality-limit", "1;0"),
            "1;0 is not a number",
        ),
        (
            ("a.png", "--limits", "{limits}", "--out", "o", "--batch", "9", "--quality-limit", "1,1"),
            "1.1 % is no quality",
        ),
        (
            ("a.png", "--limits", "{limits}", "--out", "o", "--batch", "9", "--quality-limit", "1.1 %"),
            "1.1 % is no quality",
        ),
        (("a.png", "--limits", "{limits}", "--out", "o", "--quality-limit", "1"), "--quality-limit says nothing alone"),
        (
            (
                "a.png",
                "b.png",
                "c.png",
                "--limits",
                "{limits}",
                "--out",
                "o",
                *SCALE,
                "--batch",
                "2",
                "--quality-limit",
                "1",
            ),
            "3 pieces are more than the batch of 2",
        ),
        (("a.png", "--limits", "{limits}", "--out", "o", "--pieces", "x"), "does not say what the piece is"),
        (("a.png", "--limits", "{limits}", "--out", "o", "--sheet", "s"), "leave out photographs named beside it"),
        (("--limits", "{limits}", "--out", "o", "--sheet", "s", "--pieces", "x"), "leave out --pieces"),
        (("--again", "a.png", "--out", "o"), "--again compares two photographs, not 1: name"),
        (("--again", "a", "b", "--out", "o", "--batch", "9"), "--batch says nothing with --again"),
        (("--again", "{folder}", "b", "--out", "o"), "is a folder"),
        (("a.png", "--limits", "{limits}", "--out", "o", "--same-setup"), "--same-setup says nothing without --again"),
        (("--preset", "clear-lure"), "add --write-limits"),
        (("--write-limits", "x.toml"), "add --preset"),
        (("--write-limits", "x.toml", "--preset", "clear-lrue"), "did you mean clear-lure?"),
    ],
)
def test_a_slip_is_one_line(tmp_path: Path, limits: Path, args: tuple[str, ...], said: str,
                            monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    for name in "abc":
        (tmp_path / f"{name}.png").write_bytes(b"not opened")
    result = run(
        *(arg.format(limits=limits, folder=tmp_path) if arg[0] == "{" and arg[1:2] != "p" else arg for arg in args)
    )
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stderr.count("\n") == 1
    assert not (tmp_path / "x.toml").exists()


def test_the_log_knows_a_piece_s_earlier_photograph(tmp_path: Path) -> None:
    grown = Path(__file__).parents[1] / "truth" / "grown"
    old, log = tmp_path / "old", tmp_path / "log.sqlite"
    old.mkdir()
    (old / "renamed.jpg").write_bytes((grown / "cup-first.jpg").read_bytes())
    (old / "other.jpg").write_bytes((grown / "lure-first.jpg").read_bytes())
    entered = CliRunner().invoke(
        main, ["log", "add", "--log", str(log), "--resin", "clear", "--photo", str(grown / "cup-first.jpg")]
    )
    assert entered.exit_code == 0, entered.output
    ask = ["inspect", "--again", "--casting", "1", "--log", str(log), str(old)]
    result = CliRunner().invoke(main, [*ask, str(grown / "cup-grown.jpg"), "--out", str(tmp_path / "R")])
    assert result.exit_code == 1, result.output
    assert "grew" in result.stdout
    empty = tmp_path / "empty"
    empty.mkdir()
    lost = CliRunner().invoke(main, [*ask[:-1], str(empty), str(grown / "cup-grown.jpg"), "--out", str(tmp_path / "S")])
    assert lost.exit_code == 2
    assert "none of the photographs named is one of casting 1 (cup-first.jpg)" in lost.stderr
    swapped = CliRunner().invoke(main, [*ask[:-1], str(old / "renamed.jpg"), "--out", str(tmp_path / "S")])
    assert swapped.exit_code == 2
    assert (
        "renamed.jpg is itself one of casting 1 (cup-first.jpg) and none named before it is another" in swapped.stderr
    )
    both = [main, ["log", "add", "--log", str(log), "--resin", "clear"]]
    both[1] += [word for name in ("renamed", "other") for word in ("--photo", str(old / f"{name}.jpg"))]
    assert CliRunner().invoke(*both).exit_code == 0
    (old / "later.jpg").write_bytes((grown / "cup-grown.jpg").read_bytes())
    ask[3] = "2"
    several = CliRunner().invoke(main, [*ask, str(old / "later.jpg"), "--out", str(tmp_path / "S")])
    assert several.exit_code == 2
    assert f"name one of {old / 'other.jpg'}, {old / 'renamed.jpg'}" in several.stderr
    alone = CliRunner().invoke(main, ["inspect", "--casting", "1", str(old), "--out", str(tmp_path / "S")])
    assert "--casting says nothing without --again" in alone.stderr
