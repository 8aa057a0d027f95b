"""`bubblegrade log`, from the command line to what it prints, leaves and keeps."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner, Result

from bubblegrade.commands import main
from bubblegrade.records.fields import FIELDS
from tests.command_line import refused

Run = Callable[..., Result]
PICTURE = cv2.imencode(".png", np.zeros((64, 64), np.uint8))[1].tobytes()
SHA = hashlib.sha256(PICTURE).hexdigest()


@pytest.fixture
def log(tmp_path: Path) -> Run:
    """Return a runner of `bubblegrade log` on a log of its own."""

    def run(*arguments: str | Path) -> Result:
        environment = {"BUBBLEGRADE_LOG": str(tmp_path / "castings.sqlite")}
        return CliRunner().invoke(main, ["log", *(str(each) for each in arguments)], env=environment)

    return run


def words(result: Result) -> str:
    """Return what was printed, in single blanks, after a run that was done."""
    assert result.exit_code == 0, result.output
    return " ".join(result.stdout.split())


def graded(folder: Path, *, voids: int = 57, sha256: str = SHA) -> Path:
    """Write the record of a grading."""
    folder.mkdir()
    casting = {
        "photo": "a.jpg", "sha256": sha256, "unfit": [], "judged": {"area_cm2": {"value": 15.0}},
        "counts": {"voids": {"value": voids, "low": 43.0, "high": 74.0}}, "smallest_countable_mm": 0.25,
        "clarity": {"score": 31.0, "low": 20.0, "high": 48.0, "word": "bubbly"},
    }  # fmt: skip
    (folder / "run.json").write_text(json.dumps({"castings": [casting]}), "utf-8")
    return folder


def test_every_field_has_its_option_and_help_says_where_the_log_is(log: Run) -> None:
    said = log("add", "--help").stdout
    assert all(field.option in said for field in FIELDS)
    assert "BUBBLEGRADE_LOG" in log().stdout
    assert log().exit_code == 0


def test_a_casting_is_entered_listed_and_shown_with_what_is_unknown(log: Run) -> None:
    assert words(log("add", "--resin", "Clear One", "--gauge-gel", "58psi", "--date", "2026-03-01")) == "casting 1"
    assert words(log("list")) == "id date resin 1 2026-03-01 Clear One"
    said = words(log("show", 1))
    assert "gauge gel 58psi 399.896 kPa gauge" in said
    assert "date 2026-03-01 2026-03-01 00:00 UTC" in said
    assert "Not known: batch, recipe, lot" in said
    assert "Never open a lid" in said
    assert json.loads(log("list", "--json").stdout)[0]["resin"] == "Clear One"


def test_a_slip_of_the_pen_begins_no_log(log: Run, tmp_path: Path) -> None:
    refused(log("add", "--gauge-gel", "60"), "gauge gel 60 has no unit")
    refused(log("add"), "nothing is said of the casting")
    refused(log("list"), "castings.sqlite is not there: begin the log with 'bubblegrade log add'")
    assert list(tmp_path.iterdir()) == []


def test_a_date_that_has_not_come_is_entered_and_said(log: Run) -> None:
    ahead = log("add", "--date", "9126-03-01", "--mould", "a")
    assert ahead.exit_code == 0
    assert ahead.stderr == (
        "bubblegrade: casting 1: the date 9126-03-01 has not come yet: if it is a slip, correct it\n"
    )
    assert log("add", "--date", "2026-03-01").stderr == ""
    assert "9126-03-01" in words(log("list"))


def test_a_slip_that_runs_through_a_sheet_is_said_once(log: Run, tmp_path: Path) -> None:
    rows = "".join(f"{9000 + number}-03-01\n" for number in range(40))
    (tmp_path / "s.csv").write_text(f"date\n2026-03-01\n{rows}", "utf-8")
    (line,) = log("add", "--sheet", tmp_path / "s.csv").stderr.splitlines()
    assert line.startswith("bubblegrade: casting 2: the date 9000-03-01 has not come yet")
    assert line.endswith("(39 more castings likewise)")
    (tmp_path / "two.csv").write_text("date\n9500-03-01\n9500-03-02\n", "utf-8")
    (line,) = log("add", "--sheet", tmp_path / "two.csv").stderr.splitlines()
    assert line.endswith("(1 more casting likewise)")


def test_a_sheet_that_grew_is_entered_again_and_only_its_new_castings_are(log: Run, tmp_path: Path) -> None:
    sheet = tmp_path / "s.csv"
    sheet.write_text("date,mould,gauge_gel (psi)\n2026-03-01,a,58\n2026-03-01,b,60\n", "utf-8")
    assert words(log("add", "--sheet", sheet)) == "castings 1 to 2"
    again = log("add", "--sheet", sheet)
    assert (words(again), again.stderr) == (
        "",
        "bubblegrade: castings 1 to 2 were entered before just as the sheet says, and not again: "
        "with --all every row becomes a casting of its own\n",
    )
    sheet.write_text(f"{sheet.read_text('utf-8')}2026-03-02,a,58\n", "utf-8")
    assert words(log("add", "--sheet", sheet)) == "casting 3"
    assert words(log("add", "--sheet", sheet, "--all")) == "castings 4 to 6"
    refused(log("add", "--mould", "a", "--all"), "--all is said of a sheet: name one with --sheet")


def test_rows_that_only_read_like_castings_of_the_log_are_named_and_entered_when_told_apart(
    log: Run, tmp_path: Path
) -> None:
    sheet = tmp_path / "s.csv"
    sheet.write_text("mould,resin,batch\na,Clear One,\na,Clear One,\nb,,7\n", "utf-8")
    assert words(log("add", "--sheet", sheet)) == "castings 1 to 3"  # two alike in one sheet are two
    other = tmp_path / "later.csv"
    other.write_text("mould,resin,batch\nb,,7\na,Clear One,\nc,,\n", "utf-8")
    found = log("add", "--sheet", other)
    assert words(found) == "casting 4"
    known, alike = found.stderr.splitlines()
    assert known.startswith("bubblegrade: casting 3 was entered before just as the sheet says, and not again: ")
    assert alike == (
        "bubblegrade: line 3 of the sheet says no date, batch or photo, and the rest as casting 1: not entered again; "
        "if they are new, give them one of these"
    )
    other.write_text("mould,resin,batch\nb,,7\na,Clear One,8\nc,,\n", "utf-8")
    assert words(log("add", "--sheet", other)) == "casting 5"


def test_a_list_may_be_cut_and_says_of_how_many(log: Run, tmp_path: Path) -> None:
    (tmp_path / "s.csv").write_text("mould\na\nb\nA\n", "utf-8")
    assert words(log("add", "--sheet", tmp_path / "s.csv")) == "castings 1 to 3"
    assert words(log("list", "--mould", "a", "--last", "1")) == "id date mould 3 - A 1 of 2 castings."
    assert words(log("list", "--mould", "c")) == "No casting of the log is like that."
    assert words(log("list", "--all")).endswith("3 - A")


def test_a_mould_pressed_harder_than_it_was_cast_is_said(log: Run, tmp_path: Path) -> None:
    result = log("add", "--mould-pressure", "50psi", "--gauge-start", "60psi")
    assert "gauge start 60psi is above what the mould was cast at, 50psi" in result.stderr
    (tmp_path / "s.csv").write_text("mould_pressure,gauge_gel\n50psi,49psi\n", "utf-8")
    assert log("add", "--sheet", tmp_path / "s.csv").stderr == ""
    refused(log("add", "--sheet", tmp_path / "s.csv", "--resin", "a"), "write all into the sheet, or leave it out")


def test_a_correction_keeps_the_old_value_and_a_note_stands_beside_it(log: Run) -> None:
    log("add", "--gauge-gel", "58psi")
    assert words(log("correct", 1, "gauge gel=57psi", "--why", "misread", "--by", "Ines")) == (
        "casting 1: gauge gel corrected"
    )
    assert words(log("correct", 1, "gauge_gel=57psi")) == "casting 1: nothing to change"
    assert words(log("note", 1, "damp mould", "--cause")) == "casting 1: cause noted"
    assert words(log("note", 1, "seen")) == "casting 1: noted"
    said = words(log("show", 1))
    assert "Ines gauge_gel 58psi 57psi misread" in said
    assert "damp mould cause" in said
    refused(log("correct", 1, "gauge_gel"), "is no correction: write FIELD=VALUE")
    refused(log("note", 7, "x"), "casting 7 is not in the log")


def test_a_terminal_acts_on_nothing_that_was_typed(log: Run) -> None:
    for resin, remarks in (("\x1b[2Jred", "first\nsecond\x1b]0;x\x07"), ("\x1b[2Jred", "back\u202ewards")):
        log("add", "--resin", resin, "--mould", "lure\x07", "--operator", remarks[:2], "--remarks", remarks)
    log("note", 1, "gone\x1b[1A")
    for said in (log("list"), log("show", 1), log("show", 2)):
        assert not set(said.stdout) & set("\x1b\x07\u202e")
    assert "\\x1b[2Jred" in log("list").stdout
    assert "\n          second\\x1b]0;x\\x07\n" in log("show", 1).stdout


def test_results_find_the_casting_of_their_photograph(log: Run, tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(PICTURE)
    log("add", "--resin", "a", "--photo", tmp_path / "a.jpg")
    assert words(log("attach", graded(tmp_path / "graded"))) == "casting 1: grade of a.jpg tied"
    assert words(log("attach", tmp_path / "graded")) == "casting 1: grade of a.jpg was tied already"
    assert words(log("find", tmp_path / "a.jpg")) == "casting 1"
    assert "57 (43 to 74) 31 (20 to 48) bubbly" in words(log("list"))
    assert "grade a.jpg bubbly 57 (43 to 74)" in words(log("show", 1))
    assert json.loads(log("show", 1, "--json").stdout)["results"][0]["record"]["casting"]["sha256"] == SHA


def test_a_photograph_of_two_castings_is_said_to_count_for_both(log: Run, tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(PICTURE)
    assert log("add", "--resin", "a", "--photo", tmp_path / "a.jpg").stderr == ""
    log("add", "--resin", "b")
    said = "a.jpg is a photograph of {} too, and counts for each of them"
    tied = log("attach", graded(tmp_path / "graded"), "--to", 2)
    assert (tied.exit_code, tied.stdout) == (0, "casting 2: grade of a.jpg tied\n")
    assert tied.stderr == f"bubblegrade: casting 2: {said.format('casting 1')}\n"
    added = log("add", "--resin", "c", "--photo", tmp_path / "a.jpg")
    assert added.stderr == f"bubblegrade: casting 3: {said.format('castings 1, 2')}\n"
    (tmp_path / "s.csv").write_text("resin,photo\nd,a.jpg\ne,a.jpg\n", "utf-8")
    (line,) = log("add", "--sheet", tmp_path / "s.csv").stderr.splitlines()
    assert line.endswith("(1 more photograph likewise)")


def test_what_is_no_picture_is_not_entered_as_a_photograph(log: Run, tmp_path: Path) -> None:
    for name, held, said in (
        ("lure.toml", b'name = "lure"', "lure.toml is not a JPEG, PNG or TIFF picture"),
        ("empty.jpg", b"", "empty.jpg is empty (0 bytes)"),
        ("part.png", PICTURE[:-20], "part.png is cut short"),
    ):
        (tmp_path / name).write_bytes(held)
        refused(log("add", "--resin", "a", "--photo", tmp_path / name), said)
    (tmp_path / "castings.csv").write_text("resin,photo\na,lure.toml\n", "utf-8")
    refused(log("add", "--sheet", tmp_path / "castings.csv"), "lure.toml is not a JPEG, PNG or TIFF picture")
    assert not (tmp_path / "castings.sqlite").exists()


def test_results_of_no_casting_are_said_and_may_be_given_one(log: Run, tmp_path: Path) -> None:
    log("add", "--resin", "a")
    folder = graded(tmp_path / "graded")
    result = log("attach", folder)
    assert (result.exit_code, "give its number with --to" in result.stderr) == (2, True)
    assert words(log("attach", folder, "--to", 1)) == "casting 1: grade of a.jpg tied"
    other = graded(tmp_path / "other", sha256="b" * 64)
    result = log("attach", folder, other)
    assert result.exit_code == 3
    assert "casting 1: grade of a.jpg was tied already" in result.stdout
    (folder / "hold.json").write_text('{"verdict": "holds"}', "utf-8")
    assert words(log("attach", folder, "--to", 1, "--only", "hold")) == "casting 1: hold tied"
    refused(log("attach", other, "--only", "hold"), "holds no result of hold")
    refused(log("attach", other, "--photo", "a.jpg"), "add --to NUMBER")
    refused(log("find", other / "run.json"), "is of no casting in the log")


def test_a_result_of_another_casting_is_untied_and_nothing_is_lost(log: Run, tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(PICTURE)
    log("add", "--resin", "a")
    log("add", "--resin", "b")
    folder = graded(tmp_path / "graded")
    log("attach", folder, "--to", 1)
    assert words(log("untie", 1, "--photo", "a.jpg", "--why", "of casting 2")) == "casting 1: grade of a.jpg untied"
    assert "57" not in words(log("list"))
    refused(log("find", tmp_path / "a.jpg"), "is of no casting in the log")
    assert log("attach", folder).exit_code == 2, "its photograph must not bring it back"
    assert words(log("attach", folder, "--to", 2)) == "casting 2: grade of a.jpg tied"
    (said,) = json.loads(log("show", 1, "--json").stdout)["history"]
    assert (said["field"], said["old"], said["new"]) == ("result", f"grade of a.jpg in {folder / 'run.json'}", None)
    assert "of casting 2" in words(log("show", 1))
    assert words(log("check")) == "2 castings, sound"
    log("export", tmp_path / "out", "--as", "json")
    kept = json.loads((tmp_path / "out" / "log.json").read_text("utf-8"))["tables"]["untied"]
    (row,) = (dict(zip(kept["columns"], each, strict=True)) for each in kept["rows"])
    assert (row["why"], json.loads(row["text"])["casting"]["sha256"]) == ("of casting 2", SHA)
    assert words(log("attach", folder, "--to", 1)) == "casting 1: grade of a.jpg tied", "a slip may be taken back"


def test_only_the_results_that_are_named_are_untied(log: Run, tmp_path: Path) -> None:
    log("add", "--resin", "a")
    folder = graded(tmp_path / "graded")
    (folder / "hold.json").write_text('{"verdict": "holds"}', "utf-8")
    log("attach", folder, "--to", 1)
    refused(log("untie", 1), "add --photo NAME, --only KIND or both")
    refused(log("untie", 1, "--only", "hold", "--photo", "a.jpg"), "casting 1 has no hold of a.jpg: see")
    refused(log("untie", 7, "--only", "hold"), "casting 7 is not in the log")
    assert words(log("untie", 1, "--only", "hold")) == "casting 1: hold untied"
    assert "57 (43 to 74)" in words(log("show", 1))
    again = graded(tmp_path / "again", voids=60)
    log("attach", again)
    assert words(log("untie", 1, "--only", "grade")).count("grade of a.jpg untied") == 2


def test_what_the_commands_really_write_is_read(log: Run, tmp_path: Path) -> None:
    photo = Path(__file__).parents[2] / "sample_images" / "cup-clear-a.jpg"
    log("add", "--resin", "a", "--photo", photo)
    runner = CliRunner()
    runner.invoke(main, ["grade", str(photo), "--width", "44mm", "--out", str(tmp_path / "graded")])
    readings = ("0min=60psi@24C", "1h=50psi@24C", "--settled", "20min")
    runner.invoke(main, ["hold", *readings, "--out", str(tmp_path / "held")])
    assert words(log("attach", tmp_path / "graded")) == "casting 1: grade of cup-clear-a.jpg tied"
    assert words(log("attach", tmp_path / "held", "--to", 1)) == "casting 1: hold tied"
    grade, hold = json.loads(log("show", 1, "--json").stdout)["results"]
    columns = ("voids", "voids_low", "voids_high", "judged_area_cm2", "smallest_mm", "clarity", "clarity_high")
    assert all(grade[column] is not None for column in columns)
    assert (grade["unfit"], hold["verdict"]) == (0, "leaks")


def test_a_chart_is_printed_and_drawn(log: Run, tmp_path: Path) -> None:
    for number, voids in enumerate((50, 60, 55, 200), start=1):
        log("add", "--mould", f"m{number % 2}")
        log("attach", graded(tmp_path / f"g{number}", voids=voids, sha256=f"{number:064x}"), "--to", number)
    log("note", 4, "damp mould", "--cause")
    out = tmp_path / "chart"
    said = words(log("chart", "voids", "--base", "3", "--out", out))
    assert "4 castings: voids per cm2, centre 3.67" in said
    assert "4 13.3 beyond the limits damp mould" in said
    assert "After Western Electric, Statistical Quality Control Handbook, 1956: beyond the limits." in said
    assert "damp mould" in said
    assert sorted(path.name for path in out.iterdir()) == ["chart.csv", "chart.png", "chart.svg"]
    assert "damp mould" in (out / "chart.svg").read_text("utf-8")
    refused(log("chart", "voids", "--out", out), "holds a result already (chart.csv): add --replace")
    refused(log("chart", "voids", "--replace"), "--replace says nothing without a folder")
    refused(log("chart", "shrinkage"), "0 of 0 castings with such a result can be used")
    result = log("why", "voids", "--factor", "mould", "--factor", "operator")
    assert result.exit_code == 3
    assert "not distinguishable" in result.stdout
    assert "Operator cannot be told" in result.stdout


def test_a_difference_that_is_told_is_done(log: Run, tmp_path: Path) -> None:
    for number in range(1, 9):
        log("add", "--mould", f"m{number % 2}")
        voids = 50 + number + 100 * (number % 2)
        log("attach", graded(tmp_path / f"g{number}", voids=voids, sha256=f"{number:064x}"), "--to", number)
    assert "mould: m0 against m1 4 and 4" in words(log("why", "voids", "--factor", "mould"))


def test_a_difference_between_groups_that_were_graded_unlike_is_not_told(log: Run, tmp_path: Path) -> None:
    for number in range(1, 9):
        log("add", "--mould", f"m{number % 2}")
        folder = graded(tmp_path / f"g{number}", voids=50 + number + 100 * (number % 2), sha256=f"{number:064x}")
        record = json.loads((folder / "run.json").read_text("utf-8")) | {"request": {"whole": bool(number % 2)}}
        (folder / "run.json").write_text(json.dumps(record), "utf-8")
        log("attach", folder, "--to", number)
    result = log("why", "voids", "--factor", "mould")
    assert result.exit_code == 3
    (line,) = (line for line in result.stdout.splitlines() if "m0 against m1" in line)
    assert line.endswith("not distinguishable")
    assert "Mould was changed together with whole frame judged: the log cannot tell them apart." in result.stdout
    assert "Castings 1, 3, 5, 7 were graded with the whole lit frame, the others with an outline" in result.stdout


def test_what_the_hold_test_said_is_named_where_it_was_changed_along(log: Run, tmp_path: Path) -> None:
    for number in range(1, 9):
        log("add", "--mould", f"m{number % 2}")
        folder = graded(tmp_path / f"g{number}", voids=50 + number + 100 * (number % 2), sha256=f"{number:064x}")
        verdict = "leaks" if number % 2 else "holds"
        (folder / "hold.json").write_text(json.dumps({"verdict": verdict}), "utf-8")
        log("attach", folder, "--to", number)
    said = words(log("why", "voids", "--factor", "mould"))
    assert "Mould was changed together with hold test: the log cannot tell them apart." in said


def test_an_import_that_fails_leaves_no_log(log: Run, tmp_path: Path) -> None:
    (tmp_path / "casting.csv").write_text("id,order_s\n1,x\n", "utf-8")
    refused(log("import", tmp_path, "--log", tmp_path / "new.sqlite"), "casting.csv line 2 is not as exported")
    assert [file.name for file in tmp_path.glob("new*")] == []


@pytest.mark.parametrize("form", ["csv", "json"])
def test_the_log_goes_out_and_comes_back_the_same(log: Run, tmp_path: Path, form: str) -> None:
    log("add", "--remarks", "=1+1\nand 'more'", "--gauge-gel", "58psi")
    log("attach", graded(tmp_path / "graded"), "--to", 1)
    log("correct", 1, "gauge_gel=57psi")
    assert words(log("export", tmp_path / "out", "--as", form)).startswith("log written into")
    new = tmp_path / "new.sqlite"
    assert words(log("import", tmp_path / "out", "--log", new)).startswith("1 casting read into")
    assert log("show", 1, "--json", "--log", new).stdout == log("show", 1, "--json").stdout
    refused(log("import", tmp_path / "out"), "holds castings already")
    refused(log("import", tmp_path / "none"), "is not there")
    refused(log("chart", "voids", "--base", "x"), "--base 'x' is no whole number from 1 on")
    refused(log("export", tmp_path / "out", "--as", form), "holds a result already")
    refused(log("export", tmp_path / "out.json", "--as", form), "looks like a file, and an export is a folder")
    other = "csv" if form == "json" else "json"
    refused(log("export", tmp_path / "out", "--as", other, "--replace"), "holds an export in the other form")


def test_the_log_is_checked_copied_and_saved(log: Run, tmp_path: Path) -> None:
    log("add", "--gauge-gel", "58psi")
    assert words(log("check")) == "1 casting, sound"
    copy = tmp_path / "copy.sqlite"
    assert words(log("backup", copy)).startswith("log copied to")
    refused(log("backup", copy), "is there already: add --replace")
    assert words(log("rescue", tmp_path / "saved.sqlite", "--log", copy)).startswith("casting: 1 row saved")
    assert log("show", 1, "--log", tmp_path / "saved.sqlite").stdout == log("show", 1).stdout
    script = "import sqlite3, sys; c = sqlite3.connect(sys.argv[1]); c.execute(\"UPDATE casting SET gauge_gel = '1psi'\"); c.commit()"  # noqa: E501
    subprocess.run([sys.executable, "-c", script, str(copy)], check=True)
    result = log("check", "--log", copy)
    assert result.exit_code == 1
    assert "casting 1: gauge_gel is 1psi, and its number 399.896 kPa gauge" in result.stdout
    assert "1 casting, 1 fault" in result.stdout


def test_parts_that_are_not_those_of_the_ratio_are_remarked_on_and_no_fault(log: Run) -> None:
    log("add", "--ratio", "1:1", "--part-a", "10g", "--part-b", "12g")
    log("add", "--ratio", "100:90", "--part-a", "10g", "--part-b", "9.1g")
    log("add", "--ratio", "1:1", "--ratio-error", "20%", "--part-a", "10g", "--part-b", "12g")
    said = log("check")
    assert said.exit_code == 0
    assert said.stdout.splitlines()[0].startswith(
        "casting 1: 12 g of B to 10 g of A, where the ratio 1:1 asks for 10 g: check them"
    )
    assert said.stdout.splitlines()[1:] == ["3 castings, sound"]


def test_the_newest_none_are_no_number_of_castings(log: Run) -> None:
    refused(log("list", "--last", "0"), "--last '0' is no whole number from 1 on: write one in digits, such as 12")


@pytest.mark.parametrize("number", ["x", "1.5", "", "0"])
def test_what_is_no_number_of_a_casting_is_said_in_our_own_words(log: Run, number: str) -> None:
    refused(log("show", number), f"NUMBER '{number}' is no whole number from 1 on: write one in digits, such as 12")


def test_what_a_newer_version_knows_more_is_said_when_saved(log: Run, tmp_path: Path) -> None:
    log("add", "--resin", "a")
    script = "import sqlite3, sys; sqlite3.connect(sys.argv[1]).execute('ALTER TABLE casting ADD COLUMN moon TEXT')"
    subprocess.run([sys.executable, "-c", script, str(tmp_path / "castings.sqlite")], check=True)
    result = log("rescue", tmp_path / "saved.sqlite")
    assert (result.exit_code, "casting: not taken, unknown to this version: moon" in result.stdout) == (3, True)


def test_an_empty_log_saves_nothing_and_says_so(log: Run, tmp_path: Path) -> None:
    log("add", "--resin", "a")
    script = "import sqlite3, sys; c = sqlite3.connect(sys.argv[1]); c.execute('DELETE FROM casting'); c.commit()"
    subprocess.run([sys.executable, "-c", script, str(tmp_path / "castings.sqlite")], check=True)
    result = log("rescue", tmp_path / "saved.sqlite")
    assert (result.exit_code, "no casting could be read" in result.stderr) == (2, True)


def test_lists_and_help_import_none_of_the_libraries_that_grade(tmp_path: Path) -> None:
    script = (
        "import sys; from bubblegrade.commands import main\n"
        "try: main(['log', *sys.argv[1:]])\n"
        "except SystemExit as end: assert not end.code, end.code\n"
        "heavy = {'cv2', 'numpy', 'scipy', 'matplotlib'} & set(sys.modules)\n"
        "assert not heavy, heavy"
    )
    place = str(tmp_path / "castings.sqlite")
    for arguments in (["add", "--resin", "a", "--log", place], ["list", "--log", place], ["show", "--help"]):
        subprocess.run([sys.executable, "-c", script, *arguments], check=True, capture_output=True)


def test_help_shows_no_range_that_ends_with_what_a_file_can_hold(log: Run) -> None:
    for command in ("list", "attach", "chart"):
        assert str(2**63 - 1) not in words(log(command, "--help"))
    refused(log("show", str(2**63)), "is more than a log can hold: give a smaller one")


def test_a_chart_of_the_newest_one_says_that_it_needs_more(tmp_path: Path) -> None:
    kept = ("--log", str(tmp_path / "log.sqlite"))
    CliRunner().invoke(main, ["log", "add", "--resin", "clear", *kept])
    result = CliRunner().invoke(main, ["log", "chart", "clarity", "--last", "1", *kept])
    assert result.exit_code == 2
    assert "--last 1 leaves too few castings: 2 are needed" in result.stderr


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["chart", "vods"], "'vods' is not known: did you mean voids?"),
        (["why", "size"], "'size' is not known: use one of voids, clarity, shrinkage"),
        (["chart", "voids", "--per", "inch"], "--per 'inch' is not known: use one of cm2, cm3, px, casting"),
        (["export", "out", "--as", "xml"], "--as 'xml' is not known: use one of csv, json"),
        (["attach", "out", "--only", "grades"], "--only 'grades' is not known: did you mean grade?"),
        (["chart"], "voids|clarity|shrinkage is missing: 'bubblegrade log chart --help' says what goes there"),
        (["note", "1"], "TEXT is missing: 'bubblegrade log note --help' says what goes there"),
    ],
)
def test_a_word_that_is_wrong_or_missing_is_answered_with_those_that_are_right(
    log: Run, arguments: list[str], line: str
) -> None:
    refused(log(*arguments), line)


def test_large_letters_name_the_same_measure(log: Run) -> None:
    refused(log("chart", "Voids"), "is not there: begin the log")


@pytest.mark.parametrize(("written", "line"), [("", None), (" Open ", "open")])
def test_a_field_of_few_words_takes_none_and_blanks_as_every_field_does(
    log: Run, written: str, line: str | None
) -> None:
    words(log("add", "--batch", "a", "--line", written))
    exported = json.loads(log("show", 1, "--json").stdout)
    assert exported["casting"]["line"] == line
