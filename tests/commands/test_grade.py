"""`bubblegrade grade`, from the command line to the files it leaves."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from bubblegrade.drawn.pictures import Scene, draw
from tests.command_line import below, bubblegrade, full_disk, imported_by, refused, rows
from tests.schemas import schema_of

Photograph = Callable[..., Path]
TABLES = ["castings.csv", "run.json", "set-aside.csv", "voids.csv"]


# What comes out


def test_a_photograph_gives_the_files_of_the_contract(tmp_path: Path, photograph: Photograph) -> None:
    result = bubblegrade("grade", photograph(tmp_path / "cup.jpg"), "--out", tmp_path / "R", "--width", "15mm")
    assert result.exit_code == 0, result.output
    assert below(tmp_path / "R") == sorted([*TABLES, "cup-marked.jpg"])
    assert result.stderr == ""


def test_drawn_voids_are_found_where_they_are(tmp_path: Path, photograph: Photograph) -> None:
    bubblegrade("grade", photograph(tmp_path / "cup.jpg"), "--out", tmp_path / "R", "--mm-per-px", "0.05")
    voids = sorted(rows(tmp_path / "R" / "voids.csv"), key=lambda row: float(row["diameter_px"]))
    assert [float(void["diameter_px"]) for void in voids] == pytest.approx([14, 18, 22, 26, 30], rel=0.06)
    for void in voids:
        assert float(void["diameter_mm"]) == pytest.approx(0.05 * float(void["diameter_px"]), rel=1e-4)
        assert (void["photo"], void["kind"], void["judged"]) == ("cup.jpg", "void", "true")


def test_run_json_keeps_to_its_schema_and_names_no_place(tmp_path: Path, photograph: Photograph) -> None:
    bubblegrade(
        "grade", photograph(tmp_path / "cup.jpg"), "--out", tmp_path / "R", "--width", "15mm", "--thickness", "9mm"
    )
    text = (tmp_path / "R" / "run.json").read_text("utf-8")
    Draft202012Validator(schema_of("run")).validate(json.loads(text))
    assert str(tmp_path) not in text
    assert json.loads(text)["files"] == below(tmp_path / "R")


def test_the_same_photographs_give_the_same_bytes(tmp_path: Path, photograph: Photograph) -> None:
    photograph(tmp_path / "cups" / "a.jpg")
    for name in ("one", "other"):
        bubblegrade("grade", tmp_path / "cups", "--out", tmp_path / name)
    for name in below(tmp_path / "one"):
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "other" / name).read_bytes()


def test_folders_are_searched_and_what_is_no_picture_is_passed_over(tmp_path: Path, photograph: Photograph) -> None:
    photograph(tmp_path / "cups" / "b.jpg")
    photograph(tmp_path / "cups" / "60psi" / "a.PNG")
    photograph(tmp_path / "cups" / ".thumbs" / "b.jpg")
    (tmp_path / "cups" / "notes.txt").write_text("mixed at 21 C")
    (tmp_path / "cups" / "._b.jpg").write_bytes(b"a note of the system")
    result = bubblegrade("grade", tmp_path / "cups", "--out", tmp_path / "R")
    assert (result.exit_code, result.stderr) == (0, "")
    assert [row["photo"] for row in rows(tmp_path / "R" / "castings.csv")] == ["60psi/a.PNG", "b.jpg"]
    assert below(tmp_path / "R") == sorted([*TABLES, "60psi/a-marked.jpg", "b-marked.jpg"])


def test_names_count_from_the_common_folder_of_all_inputs(tmp_path: Path, photograph: Photograph) -> None:
    one, other = photograph(tmp_path / "cups" / "a.jpg"), photograph(tmp_path / "lures" / "a.jpg")
    bubblegrade("grade", one.parent, other, "--out", tmp_path / "R")
    assert [row["photo"] for row in rows(tmp_path / "R" / "castings.csv")] == ["cups/a.jpg", "lures/a.jpg"]


@pytest.mark.parametrize(
    "name", ["c\u00fap \u676f.jpg", 'it\'s "60" [bold].jpg', "<b>&amp;.jpg", "=1+1.jpg", "-out.jpg"]
)
def test_any_name_will_do(tmp_path: Path, photograph: Photograph, name: str) -> None:
    photograph(tmp_path / "cups" / name)
    result = bubblegrade("grade", tmp_path / "cups", "--out", tmp_path / "R")
    assert result.exit_code == 0, result.output
    assert name in result.stdout
    assert (tmp_path / "R" / f"{name[:-4]}-marked.jpg").exists()
    assert json.loads((tmp_path / "R" / "run.json").read_text("utf-8"))["castings"][0]["photo"] == name


def test_a_line_end_in_a_name_stays_on_one_line(tmp_path: Path, photograph: Photograph) -> None:
    photograph(tmp_path / "cups" / "a\nb.jpg")
    result = bubblegrade("grade", tmp_path / "cups", "--out", tmp_path / "R")
    assert len(result.stdout.splitlines()) == 2
    assert "a\\nb.jpg" in result.stdout


def test_json_prints_run_json_and_nothing_else(tmp_path: Path, photograph: Photograph) -> None:
    result = bubblegrade("grade", photograph(tmp_path / "c\u00fap.jpg"), "--out", tmp_path / "R", "--json")
    assert result.stdout_bytes == (tmp_path / "R" / "run.json").read_bytes()
    assert result.stderr == ""


def test_a_terminal_gets_a_bar_and_is_told_where_the_results_are(tmp_path: Path, photograph: Photograph) -> None:
    for name in ("a.jpg", "b.jpg"):
        photograph(tmp_path / "cups" / name)
    result = bubblegrade("grade", tmp_path / "cups", "--out", tmp_path / "R", FORCE_COLOR="1", COLUMNS="100")
    assert "grading" in result.stderr
    assert "Results in" in result.stdout


def test_one_photograph_has_no_bar(tmp_path: Path, photograph: Photograph) -> None:
    result = bubblegrade("grade", photograph(tmp_path / "a.jpg"), "--out", tmp_path / "R", FORCE_COLOR="1")
    assert result.stderr == ""


def test_a_blank_takes_an_uneven_light_off(tmp_path: Path, photograph: Photograph) -> None:
    blank = photograph(tmp_path / "blank.png", casting_px=0.0)
    cup = photograph(tmp_path / "cup.jpg")
    result = bubblegrade("grade", cup, "--out", tmp_path / "R", "--blank", blank)
    assert result.exit_code == 0, result.output
    assert json.loads((tmp_path / "R" / "run.json").read_text())["request"]["blank_sha256"]


def test_a_second_photograph_settles_what_turned_with_the_casting(tmp_path: Path, photograph: Photograph) -> None:
    cup = photograph(tmp_path / "cup.png")
    assert cv2.imwrite(str(tmp_path / "turned.png"), np.rot90(cv2.imread(str(cup)), -1))
    result = bubblegrade("grade", cup, "--out", tmp_path / "R", "--again", tmp_path / "turned.png")
    assert result.exit_code == 0, result.output
    (row,) = rows(tmp_path / "R" / "castings.csv")
    assert float(row["turned_degrees"]) == pytest.approx(90.0, abs=0.1)
    assert len(rows(tmp_path / "R" / "voids.csv")) == 5


def test_planting_measures_the_smallest_countable_size(tmp_path: Path, photograph: Photograph) -> None:
    cup = photograph(tmp_path / "cup.png")
    result = bubblegrade("grade", cup, "--out", tmp_path / "R", "--plant", "--json")
    assert result.exit_code == 0, result.output
    record = json.loads(result.stdout)
    assert record["request"]["planted"] is True
    assert 5.0 <= record["castings"][0]["smallest_countable_px"] < 14.0


def test_the_whole_frame_is_judged_where_there_is_no_outline(tmp_path: Path, photograph: Photograph) -> None:
    close_up = photograph(tmp_path / "close-up.jpg", casting_px=0.0)
    assert bubblegrade("grade", close_up, "--out", tmp_path / "R", "--whole").exit_code == 0
    (row,) = rows(tmp_path / "R" / "castings.csv")
    assert float(row["judged_area_px"]) > 0.95 * 400 * 400


def test_settings_are_read_and_kept(tmp_path: Path, photograph: Photograph) -> None:
    (tmp_path / "mine.toml").write_text("index = 1.55\nsmallest_px = 20")
    cup = photograph(tmp_path / "cup.jpg")
    bubblegrade("grade", cup, "--out", tmp_path / "R", "--settings", tmp_path / "mine.toml")
    record = json.loads((tmp_path / "R" / "run.json").read_text())
    assert (record["settings"]["index"], record["settings"]["smallest_px"]) == (1.55, 20.0)
    assert all(float(row["diameter_px"]) >= 20 for row in rows(tmp_path / "R" / "voids.csv"))


def test_the_index_of_the_command_line_comes_before_that_of_the_settings(
    tmp_path: Path, photograph: Photograph
) -> None:
    (tmp_path / "mine.toml").write_text("index = 1.55\nsmallest_px = 20\n", "utf-8")
    cup = photograph(tmp_path / "cup.jpg")
    asked = ("--settings", tmp_path / "mine.toml", "--index", "1.52")
    assert bubblegrade("grade", cup, "--out", tmp_path / "R", *asked).exit_code == 0
    record = json.loads((tmp_path / "R" / "run.json").read_text("utf-8"))
    assert (record["settings"]["index"], record["settings"]["smallest_px"]) == (1.52, 20.0)


# Unfit photographs


def test_an_unfit_photograph_is_graded_and_marked_unfit(tmp_path: Path, photograph: Photograph) -> None:
    whole = cv2.imread(str(photograph(tmp_path / "cup.png")))
    assert cv2.imwrite(str(tmp_path / "cut.png"), whole[:, 90:])
    result = bubblegrade("grade", tmp_path / "cut.png", "--out", tmp_path / "R")
    assert result.exit_code == 0, result.output
    assert "UNFIT: the casting is cut by the frame" in result.stdout
    (row,) = rows(tmp_path / "R" / "castings.csv")
    assert row["fit"] == "false"
    assert "cut by the frame" in row["unfit"]


def test_a_casting_that_fills_the_frame_has_no_outline_and_is_unfit(tmp_path: Path, photograph: Photograph) -> None:
    close = photograph(tmp_path / "close.jpg", casting_px=300.0)
    result = bubblegrade("grade", close, "--out", tmp_path / "R")
    assert result.exit_code == 0, result.output
    assert "UNFIT: the casting's outline is lost in the light: the whole frame was judged" in result.stdout


def test_strict_refuses_what_is_unfit(tmp_path: Path) -> None:
    bright = Path(__file__).parents[2] / "sample_images" / "cup-too-bright.jpg"
    fit = Path(__file__).parents[2] / "sample_images" / "cup-clear-a.jpg"
    result = bubblegrade("grade", bright, fit, "--out", tmp_path / "R", "--strict")
    assert result.exit_code == 3
    (line,) = result.stderr.splitlines()
    assert "cup-too-bright.jpg is unfit and --strict refuses it:" in line
    assert [row["photo"] for row in rows(tmp_path / "R" / "castings.csv")] == ["cup-clear-a.jpg"]


# Photographs that cannot be read


def png_claiming(cols: int, rows_: int) -> bytes:
    """Return a PNG whose header claims a size that its data do not have."""
    import zlib  # noqa: PLC0415

    _, data = cv2.imencode(".png", np.zeros((4, 4), np.uint8))
    whole = bytearray(data.tobytes())
    whole[16:24] = cols.to_bytes(4, "big") + rows_.to_bytes(4, "big")
    whole[29:33] = zlib.crc32(whole[12:29]).to_bytes(4, "big")
    return bytes(whole)


def encoded(picture: np.ndarray, suffix: str = ".png") -> bytes:
    """Return a picture as a file's bytes."""
    return bytes(cv2.imencode(suffix, picture)[1].tobytes())


UNREADABLE = {
    "zero bytes": (b"", "bad.jpg is empty (0 bytes)"),
    "not a picture": (b"GIF89a and the rest", "bad.jpg is not a JPEG, PNG or TIFF picture"),
    "an enormous header": (png_claiming(30_000, 30_000), "bad.jpg is 30000 x 30000 px, over the limit"),
    "one pixel": (encoded(np.full((1, 1), 128, np.uint8)), "bad.jpg is 1 x 1 px"),
    "all black": (encoded(np.zeros((300, 300), np.uint8)), "bad.jpg is dark all over"),
    "all white": (encoded(np.full((300, 300), 255, np.uint8)), "bad.jpg is white all over"),
    "no casting": (encoded(np.full((300, 300), 180, np.uint8)), "bad.jpg: no casting in view"),
    "cut short": (encoded(np.full((300, 300), 180, np.uint8), ".jpg")[:-40], "bad.jpg is cut short"),
}


@pytest.mark.parametrize("fault", UNREADABLE)
def test_a_photograph_that_cannot_be_read_alone_is_nothing_usable(tmp_path: Path, fault: str) -> None:
    data, words = UNREADABLE[fault]
    (tmp_path / "bad.jpg").write_bytes(data)
    refused(bubblegrade("grade", tmp_path / "bad.jpg", "--out", tmp_path / "R"), words)
    assert not (tmp_path / "R").exists()


@pytest.mark.parametrize(
    "arguments",
    [("grade", "a.jpg", "--width", "44mm", "--width=50mm"), ("log", "list", "--mould", "a", "--mould", "b")],
)
def test_an_option_of_one_value_given_twice_is_refused(arguments: tuple[str, ...]) -> None:
    refused(bubblegrade(*arguments), " is given 2 times and takes one value: give it")


@pytest.mark.parametrize(
    "arguments",
    [
        ("grade", "", "--out", "R"),
        ("grade", ".", "--out", ""),
        ("grade", "--watch=", "--out", "R"),
        ("log", "attach", ""),
    ],
)
def test_an_empty_name_is_not_taken_for_the_folder_one_stands_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, photograph: Photograph, arguments: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    photograph(tmp_path / "a.png")
    refused(bubblegrade(*arguments), " is empty, as a variable that is not set leaves it: name the file or folder")
    assert [path.name for path in tmp_path.iterdir()] == ["a.png"]


def test_the_rest_of_a_folder_is_graded(tmp_path: Path, photograph: Photograph) -> None:
    for number, (data, _) in enumerate(UNREADABLE.values()):
        (tmp_path / "cups").mkdir(exist_ok=True)
        (tmp_path / "cups" / f"bad-{number}.jpg").write_bytes(data)
    photograph(tmp_path / "cups" / "good.jpg")
    result = bubblegrade("grade", tmp_path / "cups", "--out", tmp_path / "R")
    assert result.exit_code == 3
    assert len(result.stderr.splitlines()) == len(UNREADABLE)
    assert all(line.startswith(f"bubblegrade: bad-{n}.jpg") for n, line in enumerate(result.stderr.splitlines()))
    assert below(tmp_path / "R") == sorted([*TABLES, "good-marked.jpg"])
    not_graded = json.loads((tmp_path / "R" / "run.json").read_text())["not_graded"]
    assert [entry["photo"] for entry in not_graded] == [f"bad-{n}.jpg" for n in range(len(UNREADABLE))]


def test_a_missing_file_is_named_and_the_rest_graded(tmp_path: Path, photograph: Photograph) -> None:
    result = bubblegrade("grade", tmp_path / "gone.jpg", photograph(tmp_path / "a.jpg"), "--out", tmp_path / "R")
    assert result.exit_code == 3
    assert result.stderr == f"bubblegrade: {tmp_path}/gone.jpg does not exist: check the name\n"


def test_a_missing_file_alone_is_nothing_usable(tmp_path: Path) -> None:
    refused(bubblegrade("grade", tmp_path / "gone.jpg", "--out", tmp_path / "R"), "does not exist: check the name")


def test_an_empty_folder_is_nothing_usable(tmp_path: Path) -> None:
    (tmp_path / "cups").mkdir()
    (tmp_path / "cups" / "notes.txt").touch()
    refused(bubblegrade("grade", tmp_path / "cups", "--out", tmp_path / "R"), "cups holds no photograph")


def test_two_points_and_a_length_give_the_scale(tmp_path: Path, photograph: Photograph) -> None:
    cup = photograph(tmp_path / "cup.jpg")
    done = bubblegrade("grade", cup, "--out", tmp_path / "R", "--span", "20,30,220,30=8mm", "--json")
    record = json.loads(done.stdout)
    assert record["request"]["span"]["long_mm"] == 8.0
    assert record["castings"][0]["scale"]["mm_per_px"] == pytest.approx(0.04)
    assert record["castings"][0]["span_px"]["x_px"] == [20.0, 220.0]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--disc", "0mm"], ["--disc"]),
        (["--disc", "coin"], ["--disc coin"]),
        (["--disc", "21mm", "--width", "36mm"], ["--width and --disc both give the scale"]),
        (["--disc", "21mm", "--camera-height", "9km"], ["--camera-height"]),
        (["--width", "30mm", "--camera-height", "300mm"], ["--camera-height says nothing", "and --thickness"]),
        (
            ["--camera-height", "300mm"],
            ["--camera-height says nothing", "add --card, --disc, or --width and --thickness"],
        ),
    ],
)
def test_a_disc_that_cannot_be_is_one_line(
    tmp_path: Path, photograph: Photograph, options: list[str], words: list[str]
) -> None:
    refused(bubblegrade("grade", photograph(tmp_path / "cup.png"), "--out", tmp_path / "R", *options), *words)
    assert not (tmp_path / "R").exists()


def test_a_disc_that_is_not_there_is_said_of_the_photograph(tmp_path: Path) -> None:
    cup = Path(__file__).parents[2] / "sample_images" / "cup-clear-a.jpg"
    refused(bubblegrade("grade", cup, "--out", tmp_path / "R", "--disc", "21mm"), "cup-clear-a.jpg: no coin or disc")


def test_an_eye_in_the_casting_is_not_taken_for_the_coin(tmp_path: Path) -> None:
    cup = cv2.imread(str(Path(__file__).parents[2] / "sample_images" / "cup-clear-a.jpg"))
    assert cup is not None
    cv2.circle(cup, (500, 520), 60, (8, 8, 8), -1, cv2.LINE_AA)
    cv2.imwrite(str(tmp_path / "lure.png"), cup)
    result = bubblegrade("grade", tmp_path / "lure.png", "--out", tmp_path / "R", "--disc", "4mm")
    refused(result, "lure.png: the only disc in view, at 500,520, lies in the casting: lay the coin on the bare light")


@pytest.mark.parametrize(("x", "refused_for"), [(35, None), (80, "lies partly over the casting")])
def test_a_coin_beside_the_casting_gives_the_scale_and_one_over_its_edge_none(
    tmp_path: Path, x: int, refused_for: str | None
) -> None:
    cup = cv2.imread(str(Path(__file__).parents[2] / "sample_images" / "cup-clear-a.jpg"))
    assert cup is not None
    cv2.circle(cup, (x, 510), 34, (8, 8, 8), -1, cv2.LINE_AA)
    cv2.imwrite(str(tmp_path / "cup.png"), cup)
    result = bubblegrade("grade", tmp_path / "cup.png", "--out", tmp_path / "R", "--disc", "3mm")
    if refused_for is None:
        assert result.exit_code == 0, result.stderr
    else:
        refused(result, f"cup.png: the only disc in view, at {x},510, {refused_for}: lay the coin on the bare light")


def test_where_a_photograph_was_taken_is_in_no_output(tmp_path: Path, photograph: Photograph) -> None:
    exif = Image.Exif()
    exif[0x0110] = "Example One"
    exif.get_ifd(0x8825).update({1: "N", 2: (47.0, 11.0, 13.0), 3: "E", 4: (19.0, 23.0, 29.0), 29: "2026:05:03"})
    with Image.open(photograph(tmp_path / "plain.png")) as plain:
        plain.convert("RGB").save(tmp_path / "cup.jpg", quality=95, exif=exif)
    assert b"2026:05:03" in (tmp_path / "cup.jpg").read_bytes()
    done = bubblegrade("grade", tmp_path / "cup.jpg", "--out", tmp_path / "R")
    assert done.exit_code == 0, done.output
    (casting,) = json.loads((tmp_path / "R" / "run.json").read_text("utf-8"))["castings"]
    assert casting["noted"]["camera"] == "Example One"
    for name in below(tmp_path / "R"):
        content = (tmp_path / "R" / name).read_bytes()
        assert b"2026:05:03" not in content
        assert b"GPS" not in content
        if name.endswith(".jpg"):
            with Image.open(tmp_path / "R" / name) as marked:
                assert not dict(marked.getexif())


def test_an_absurd_width_names_the_photograph(tmp_path: Path, photograph: Photograph) -> None:
    cup = photograph(tmp_path / "cup.jpg")
    refused(
        bubblegrade("grade", cup, "--out", tmp_path / "R", "--width", "4m"),
        "cup.jpg: --width 4000mm",
        "check the width",
    )


def test_a_photograph_that_the_memory_cannot_hold_is_one_line(
    tmp_path: Path, photograph: Photograph, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise MemoryError

    monkeypatch.setattr(cv2, "imdecode", full)
    refused(bubblegrade("grade", photograph(tmp_path / "a.jpg"), "--out", tmp_path / "R"), "a.jpg needs more memory")


# Requests that cannot be met


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--mm-per-px", "-0.04"], "--mm-per-px -0.04 is not a usable scale"),
        (["--mm-per-px", "0"], "--mm-per-px 0 is not a usable scale"),
        (["--mm-per-px", "nan"], "--mm-per-px nan is not a usable scale"),
        (["--index", "resin"], "--index 'resin' is not a number: give the cured resin's, such as 1.55"),
        (["--index", "2.4"], "--index 2.4 is out of range: give 1.3 to 1.7"),
        (["--index", "nan"], "--index nan is out of range"),
        (
            ["--mm-per-px", "fine"],
            "--mm-per-px fine does not begin with a number: give millimetres per pixel, such as 0.0375",
        ),
        (["--mm-per-px", "0.04in"], "--mm-per-px 0.04in has no known unit (in): give millimetres per pixel, such as"),
        (["--width", "44"], "--width 44 has no unit: write 44mm or 1.75in"),
        (["--span", "1,2,3=30mm"], "--span 1,2,3=30mm is not two points: write x,y,x,y=length"),
        (["--span", "0,0,300,400=20"], "--span 20 has no unit"),
        (["--span", "0,0,3,4=20mm"], "take two points at least 20 px apart"),
        (["--span", "0,0,300,400=20mm", "--width", "44mm"], "--width and --span both give the scale"),
        (["--width", "60psi"], "--width 60psi has no known unit of length"),
        (["--width", "-44mm"], "--width -44mm is not above zero"),
        (["--width", "44km"], "--width 44km has no known unit"),
        (["--width", "44m"], "--width 44m is more than 5000mm: check its unit"),
        (["--width", "44mm", "--thickness", "0mm"], "--thickness 0mm is not above zero"),
        (["--width", "44mm", "--thickness", "14m"], "--thickness 14m is more than 500mm: check its unit"),
        (["--thickness", "14mm"], "--thickness says nothing without a scale"),
        (["--width", "44mm", "--mm-per-px", "0.04"], "both give the scale"),
        (["--width", "44mm", "--whole"], "give --mm-per-px instead"),
        (["--settings", "gone.toml"], "gone.toml cannot be opened"),
        (["--blank", "gone.jpg"], "gone.jpg does not exist"),
        (["--depth", "3"], "No such option"),
    ],
)
def test_a_request_that_cannot_be_met_is_one_line(
    tmp_path: Path, photograph: Photograph, options: list[str], words: str
) -> None:
    refused(bubblegrade("grade", photograph(tmp_path / "a.jpg"), "--out", tmp_path / "R", *options), words)
    assert not (tmp_path / "R").exists()


def test_a_second_photograph_for_two_castings_is_one_line(tmp_path: Path, photograph: Photograph) -> None:
    one, other = photograph(tmp_path / "a.jpg"), photograph(tmp_path / "b.jpg")
    refused(
        bubblegrade("grade", one, other, "--out", tmp_path / "R", "--again", other),
        "--again settles one photograph, 2 are named: grade them one by one",
    )
    assert not (tmp_path / "R").exists()


def test_a_second_photograph_that_does_not_exist_is_one_line(tmp_path: Path, photograph: Photograph) -> None:
    cup = photograph(tmp_path / "a.jpg")
    refused(
        bubblegrade("grade", cup, "--out", tmp_path / "R", "--again", tmp_path / "gone.jpg"), "gone.jpg does not exist"
    )


def test_settings_may_begin_with_a_byte_order_mark(tmp_path: Path, photograph: Photograph) -> None:
    (tmp_path / "s.toml").write_text("index = 1.55\n", "utf-8-sig")
    bubblegrade("grade", photograph(tmp_path / "a.png"), "--out", tmp_path / "R", "--settings", tmp_path / "s.toml")
    assert json.loads((tmp_path / "R" / "run.json").read_text("utf-8"))["settings"]["index"] == 1.55


@pytest.mark.parametrize("name", ["-x.png", "-1.png", "--cup.png"])
def test_a_photograph_whose_name_begins_as_an_option_says_how_to_name_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / name).touch()
    refused(bubblegrade("grade", name, "--out", "R"), f"{name} is a file", f"write .{os.sep}{name}")


def test_settings_that_are_no_text_are_one_line(tmp_path: Path, photograph: Photograph) -> None:
    (tmp_path / "mine.toml").write_bytes(b"\xff\xfe\x00")
    cup = photograph(tmp_path / "a.jpg")
    refused(
        bubblegrade("grade", cup, "--out", tmp_path / "R", "--settings", tmp_path / "mine.toml"), "not text in UTF-8"
    )


def test_a_blank_lies_as_the_sensor_saw_it_whatever_turn_the_camera_noted(
    tmp_path: Path,
) -> None:
    """A phone that looks straight down notes any of its four turns."""
    uneven = {"width_px": 400, "height_px": 300, "gradient": 0.8}
    Image.fromarray(draw(Scene(**uneven, casting_px=100.0)).picture).save(tmp_path / "cup.png")
    passes = []
    for orientation in (1, 3, 6):
        exif = Image.Exif()
        exif[0x0112] = orientation
        Image.fromarray(draw(Scene(**uneven, casting_px=0.0)).picture).save(tmp_path / "noted.png", exif=exif)
        arguments = ("--out", tmp_path / "R", "--blank", tmp_path / "noted.png", "--replace")
        bubblegrade("grade", tmp_path / "cup.png", *arguments)
        passes.append(rows(tmp_path / "R" / "castings.csv")[0]["clear_transmittance_share"])
    assert passes == [passes[0]] * 3


def test_a_blank_of_another_size_is_one_line(tmp_path: Path, photograph: Photograph) -> None:
    cup, blank = photograph(tmp_path / "a.jpg"), photograph(tmp_path / "blank.png", size_px=300, casting_px=0.0)
    refused(bubblegrade("grade", cup, "--out", tmp_path / "R", "--blank", blank), "a.jpg: the blank is 300 x 300 px")


def test_nothing_named_is_one_line(tmp_path: Path) -> None:
    refused(bubblegrade("grade", "--out", tmp_path), "no photograph is named")
    refused(bubblegrade("grade", "a.jpg"), "add --out DIR")


# Clashes


def test_two_photographs_with_one_output_are_refused_before_any_work(tmp_path: Path, photograph: Photograph) -> None:
    for name in ("a.jpg", "a.png"):
        photograph(tmp_path / "cups" / name)
    result = bubblegrade("grade", tmp_path / "cups", "--out", tmp_path / "R")
    refused(result, "a.jpg and a.png would both give a-marked.jpg: rename one of them")
    assert not (tmp_path / "R").exists()


def test_names_that_differ_only_in_case_clash(tmp_path: Path, photograph: Photograph) -> None:
    photograph(tmp_path / "cups" / "a.jpg")
    photograph(tmp_path / "cups" / "A.png")
    refused(bubblegrade("grade", tmp_path / "cups", "--out", tmp_path / "R"), "would both give")


def test_a_photograph_named_twice_is_refused(tmp_path: Path, photograph: Photograph) -> None:
    cup = photograph(tmp_path / "a.jpg")
    refused(bubblegrade("grade", cup, cup, "--out", tmp_path / "R"), "a.jpg is named twice: name it once")
    refused(bubblegrade("grade", tmp_path, cup, "--out", tmp_path / "R"), "a.jpg is named twice")


def test_a_marked_picture_never_replaces_a_photograph(tmp_path: Path, photograph: Photograph) -> None:
    photograph(tmp_path / "a.jpg")
    mine = photograph(tmp_path / "a-marked.jpg").read_bytes()
    refused(bubblegrade("grade", tmp_path, "--out", tmp_path), "a.jpg would write its marked picture over a-marked.jpg")
    assert (tmp_path / "a-marked.jpg").read_bytes() == mine


def test_marked_pictures_of_an_earlier_result_are_not_graded(tmp_path: Path, photograph: Photograph) -> None:
    photograph(tmp_path / "a.jpg")
    for more in ([], ["--replace"]):
        result = bubblegrade("grade", tmp_path, "--out", tmp_path, *more)
        assert result.exit_code == 0, result.output
    assert below(tmp_path) == sorted([*TABLES, "a-marked.jpg", "a.jpg"])


# The result folder


def test_a_folder_with_a_result_is_refused_and_left_alone(tmp_path: Path, photograph: Photograph) -> None:
    cup = photograph(tmp_path / "a.jpg")
    bubblegrade("grade", cup, "--out", tmp_path / "R")
    before = (tmp_path / "R" / "run.json").stat().st_mtime_ns
    refused(bubblegrade("grade", cup, "--out", tmp_path / "R"), "holds a result already", "add --replace")
    assert (tmp_path / "R" / "run.json").stat().st_mtime_ns == before


def test_replacing_leaves_nothing_of_the_old_result(tmp_path: Path, photograph: Photograph) -> None:
    bubblegrade("grade", photograph(tmp_path / "a.jpg"), "--out", tmp_path / "R")
    bubblegrade("grade", photograph(tmp_path / "b.jpg"), "--out", tmp_path / "R", "--replace")
    assert below(tmp_path / "R") == sorted([*TABLES, "b-marked.jpg"])


def test_nothing_usable_leaves_the_old_result(tmp_path: Path, photograph: Photograph) -> None:
    bubblegrade("grade", photograph(tmp_path / "a.jpg"), "--out", tmp_path / "R")
    (tmp_path / "bad.jpg").touch()
    refused(bubblegrade("grade", tmp_path / "bad.jpg", "--out", tmp_path / "R", "--replace"), "bad.jpg is empty")
    assert below(tmp_path / "R") == sorted([*TABLES, "a-marked.jpg"])


@pytest.mark.parametrize("place", ["file", "file/below"])
def test_a_place_that_cannot_be_written_is_one_line(tmp_path: Path, photograph: Photograph, place: str) -> None:
    (tmp_path / "file").touch()
    result = bubblegrade("grade", photograph(tmp_path / "a.jpg"), "--out", tmp_path / place)
    refused(result, str(tmp_path / place), "name another folder with --out")


def test_a_full_disk_leaves_nothing_half_written(tmp_path: Path, photograph: Photograph) -> None:
    cup = photograph(tmp_path / "a.jpg")
    with full_disk(12_000):  # the tables fit, the picture does not
        result = bubblegrade("grade", cup, "--out", tmp_path / "R")
    refused(result, "cannot be written (File too large)")
    assert not (tmp_path / "R").exists()


# Help and imports


def python(*arguments: str, **env: str) -> subprocess.CompletedProcess[str]:
    """Run Python in a process of its own."""
    return subprocess.run(
        [sys.executable, *arguments], capture_output=True, text=True, check=False, env={**os.environ, **env}
    )


@pytest.mark.parametrize(
    "arguments", [["--help"], ["--version"], ["grade", "--help"], ["grade"], ["shrink", "--help"], ["shrink", "0psi=a"]]
)
def test_help_waits_for_no_heavy_library(arguments: list[str]) -> None:
    _, imported = imported_by(*arguments)
    assert not {"numpy", "cv2", "scipy", "PIL", "rich"} & imported


def test_help_lists_every_command_with_its_line() -> None:
    result = bubblegrade("--help")
    assert result.exit_code == 0
    assert "grade Measure the voids in photographs of castings." in " ".join(result.stdout.split())


def test_an_unknown_command_is_one_line() -> None:
    refused(bubblegrade("grate"), "No such command 'grate': did you mean grade?")


def test_a_missing_system_library_is_one_line_with_its_cure(tmp_path: Path) -> None:
    (tmp_path / "cv2").mkdir()
    (tmp_path / "cv2" / "__init__.py").write_text(
        "raise ImportError('libGL.so.1: cannot open shared object file: No such file or directory')"
    )
    code = "from bubblegrade.commands import main; main()"
    done = python("-c", code, "grade", "a.jpg", "--out", str(tmp_path / "R"), PYTHONPATH=str(tmp_path))
    assert done.returncode == 2
    assert done.stderr == (
        "bubblegrade: OpenCV needs the system library libGL.so.1, which cannot be loaded: install it, "
        "on Debian or Ubuntu with: apt install libgl1 libglib2.0-0\n"
    )


def test_a_library_that_memory_lacks_for_is_not_called_missing(tmp_path: Path) -> None:
    reason = "_fblas.so: failed to map segment from shared object"  # as glibc says it
    (tmp_path / "cv2.py").write_text(f"raise ImportError({reason!r})")
    code = "from bubblegrade.commands import main; main()"
    done = python("-c", code, "grade", "a.jpg", "--out", str(tmp_path / "R"), PYTHONPATH=str(tmp_path))
    assert (done.returncode, len(done.stderr.splitlines())) == (2, 1)
    assert done.stderr.startswith("bubblegrade: _fblas.so cannot be loaded (failed to map segment from shared object)")
    assert "apt install" not in done.stderr


def test_another_import_error_is_not_hidden(tmp_path: Path) -> None:
    (tmp_path / "cv2.py").write_text("raise ImportError('no module of that name')")
    done = python(
        "-c", "from bubblegrade.commands import main; main()", "grade", "a.jpg", "--out", "R", PYTHONPATH=str(tmp_path)
    )
    assert done.returncode == 1
    assert "no module of that name" in done.stderr


def test_a_missing_system_library_is_told_wherever_it_is_missed(
    tmp_path: Path, photograph: Photograph, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Unlinked:
        """Finds no module, and for one of them says that a library of the system is missing."""

        def find_spec(self, name: str, *_: object) -> None:
            if name == "bubblegrade.runs.inputs":
                raise ImportError("libgthread-2.0.so.0: cannot open shared object file: No such file or directory")

    monkeypatch.delitem(sys.modules, "bubblegrade.runs.inputs", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Unlinked(), *sys.meta_path])
    refused(bubblegrade("grade", photograph(tmp_path / "a.jpg"), "--out", tmp_path / "R"), "libgthread-2.0.so.0")


def test_a_fault_of_our_own_is_not_hidden(
    tmp_path: Path, photograph: Photograph, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise cv2.error("a broken promise")

    monkeypatch.setattr("bubblegrade.grading_run.find_outline", broken)
    result = bubblegrade("grade", photograph(tmp_path / "a.jpg"), "--out", tmp_path / "R")
    assert isinstance(result.exception, cv2.error)
    assert not (tmp_path / "R").exists()
