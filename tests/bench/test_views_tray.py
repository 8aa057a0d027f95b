"""The tray's doors: what comes in, what is refused and how soon."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import asdict, replace
from hashlib import sha256
from pathlib import Path
from urllib.parse import quote

import cv2
import numpy as np
import pytest
from starlette.applications import Starlette
from starlette.testclient import TestClient

from bubblegrade.bench.asked import check_alone, task_from
from bubblegrade.bench.work import Job, graded_into
from bubblegrade.photo.lens import Calibration, Lens, lens_text
from tests.bench.conftest import NAME

PIECE = 500_000


@pytest.fixture
def picture(tmp_path: Path, photograph: Callable[..., Path]) -> bytes:
    """Return a photograph that is not in the folder."""
    return photograph(tmp_path / "new.png", level=0.5).read_bytes()


def drop(client: TestClient, name: str, content: bytes | Iterator[bytes], **asked: str) -> tuple[int, dict[str, str]]:
    answer = client.put("/tray/drop", params={**asked, "name": name}, content=content)
    return answer.status_code, answer.json()


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.mark.parametrize("name", ["new.png", 'O\'Neill "x" <i>.png', "李 é.png", "a&b;c+d.png", "'; DROP TABLE.png"])
def test_a_photograph_is_kept_under_its_name_and_waits_to_be_graded(
    client: TestClient, app: Starlette, folder: Path, picture: bytes, name: str
) -> None:
    status, words = drop(client, name, picture)
    assert status == 200
    assert (folder / words["name"]).read_bytes() == picture
    assert app.state.bench.work.state(words["name"])[0] == "waiting"
    assert "<i>" not in words["card"]
    assert client.get(f"/casting/{quote(words['name'], safe='')}/small.jpg").headers["content-type"] == "image/jpeg"


def test_the_same_photograph_twice_is_one_and_another_of_its_name_gets_a_number(
    client: TestClient, folder: Path, picture: bytes, photograph: Callable[..., Path], tmp_path: Path
) -> None:
    assert drop(client, "new.png", picture)[1]["known"] is False
    assert drop(client, "new.png", picture)[1]["known"] is True
    other = photograph(tmp_path / "other.png", level=0.4).read_bytes()
    assert drop(client, "new.png", other)[1]["name"] == "new-2.png"
    assert (folder / "new.png").read_bytes() == picture


def test_300_mb_are_refused_by_their_length_before_any_of_them_is_taken(client: TestClient, folder: Path) -> None:
    def pieces() -> Iterator[bytes]:
        raise AssertionError("nothing of it may be read")
        yield b""

    before = names(folder)
    headers = {"content-length": str(300 * 1024 * 1024)}
    answer = client.put("/tray/drop?name=huge.jpg", content=pieces(), headers=headers)
    assert answer.status_code == 413
    assert "huge.jpg is over 256 MB" in answer.json()["fault"]
    assert names(folder) == before


def test_what_hides_its_length_is_refused_when_the_count_is_over(
    client: TestClient, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bubblegrade.bench.arriving.MOST_BYTES", 5 * PIECE)  # what is counted, sooner
    sent = 0

    def pieces() -> Iterator[bytes]:
        nonlocal sent
        for _ in range(9):
            sent += PIECE
            yield bytes(PIECE)

    before = names(folder)
    status, words = drop(client, "huge.jpg", pieces())
    assert status == 413
    assert "over 256 MB" in words["fault"]
    assert names(folder) == before
    assert sent > 5 * PIECE


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("page.jpg", b"<script>alert(1)</script>"),
        ("empty.png", b""),
        ("program.jpg", b"MZ" + bytes(2000)),
        ("cut.png", b"\x89PNG\r\n\x1a\n" + bytes(90)),
        ("vector.png", b"<svg xmlns='http://www.w3.org/2000/svg'/>"),
        ("raw.dng", b"II*\0" + bytes(400)),
        ("phone.heic", b"\0\0\0\x18ftypheic" + bytes(400)),
    ],
)
def test_what_is_no_picture_inside_is_refused_whatever_it_is_called(
    client: TestClient, folder: Path, name: str, content: bytes
) -> None:
    before = names(folder)
    status, words = drop(client, name, content)
    assert status == 400
    assert name in words["fault"]
    assert "\n" not in words["fault"]
    assert names(folder) == before


@pytest.mark.parametrize(
    "name", ["../up.png", "/etc/a.png", "..\\up.png", ".hid.png", "", "a.exe", "a\0.png", "x" * 300 + ".png"]
)
def test_a_name_that_leads_elsewhere_is_refused(client: TestClient, folder: Path, picture: bytes, name: str) -> None:
    before = [names(folder), names(folder.parent)]
    assert drop(client, name, picture)[0] == 400
    assert [names(folder), names(folder.parent)] == before


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"scale": "width"}, "the casting's widest span has no length beside it: write one, such as 36mm"),
        ({"scale": "width", "length": "36"}, "has no unit"),
        ({"scale": "disc", "length": "9km"}, "no known unit"),
        ({"scale": "width", "length": "90m"}, "is over 5000 mm"),
        ({"scale": "mm-per-px", "length": "wide"}, "does not begin with a number: give millimetres per pixel"),
        ({"scale": "guess"}, "scale 'guess' is not known"),
        ({"thickness": "14mm"}, "a thickness says nothing without a scale"),
        ({"length": "36mm"}, "a length of 36mm does not say what of: say what gives the scale"),
        ({"scale": "card", "length": "99.2mm"}, "leave 99.2mm out, or write it as the check length"),
        ({"scale": "width", "length": "36mm", "whole": "yes"}, "the widest span needs the outline"),
        ({"printed": "99.2mm"}, "a check length says nothing without the card in view"),
        ({"scale": "width", "length": "36mm", "lens": "own.toml"}, "a calibrated lens says nothing without the card"),
        ({"scale": "width", "length": "36mm", "height": "400mm"}, "the height of the lens says nothing without"),
        ({"scale": "mm-per-px", "length": "0.1", "height": "400mm"}, "the height of the lens says nothing without"),
        ({"scale": "card", "printed": "99"}, "check length 99 has no unit"),
        ({"scale": "card", "lens": "own.toml"}, "own.toml is no lens file of version"),
        ({"scale": "card", "blank": NAME}, "does not lie on the card"),
        ({"index": "glass"}, "the resin's refractive index 'glass' is not a number"),
        ({"settings": "words.toml"}, "words.toml"),
        ({"settings": "none.toml"}, "none.toml is not on the bench"),
        ({"settings": "../away.toml"}, "away.toml is not on the bench"),
        ({"settings": NAME}, "is not on the bench"),
        ({"blank": "own.toml"}, "own.toml is not on the bench"),
        ({"blank": "../new.png"}, "is not on the bench"),
        ({"again": NAME}, "a second photograph settles one casting"),
        ({"again": NAME, "blank": NAME}, "cannot be bare backlight and casting"),
    ],
)
def test_a_slip_in_the_form_is_told_before_the_photograph_is_taken(
    client: TestClient, folder: Path, picture: bytes, asked: dict[str, str], words: str
) -> None:
    for place in (folder / "own.toml", folder.parent / "away.toml"):
        place.write_text("index = 1.5\n", "utf-8")
    (folder / "words.toml").write_bytes(b"\xff\xfe")
    status, said = drop(client, "new.png", picture, **asked)
    assert status in {400, 404}
    assert words in said["fault"]
    assert not (folder / "new.png").exists()


@pytest.mark.parametrize(
    "asked", [{"scale": "width", "length": "36mm", "thickness": "14mm"}, {"scale": "card"}, {"whole": "yes"}]
)
def test_photographs_of_the_folder_are_graded_as_asked(
    client: TestClient, app: Starlette, asked: dict[str, str]
) -> None:
    (name,) = app.state.bench.folder.photographs
    answer = client.post("/tray/grade", json={**asked, "names": [name]})
    assert answer.json()["of"] == 1
    assert "waiting" in answer.json()["cards"]
    assert client.post("/tray/cancel", json={"names": [name]}).json()["of"] == 0


def test_a_photograph_graded_in_mm_does_not_lose_its_scale_to_a_form_that_was_opened_anew(
    client: TestClient, app: Starlette, folder: Path
) -> None:
    scaled = task_from({"scale": "width", "length": "36mm"}, app.state.bench.folder, version="0.1")
    assert graded_into(Job(folder / NAME, folder / "bench" / NAME, scaled)) == ""
    answer = client.post("/tray/grade", json={"scale": "none", "names": [NAME]})
    assert (answer.status_code, app.state.bench.work.progress) == (400, (0, 0))
    assert answer.json()["fault"].startswith(f"{NAME} was graded in mm, and the form says nothing that gives the scale")
    assert client.post("/tray/grade", json={"scale": "width", "length": "40mm", "names": [NAME]}).json()["of"] == 1
    client.post("/tray/cancel", json={"names": [NAME]})


def test_what_grade_is_told_with_files_can_be_told_with_those_of_the_folder(
    client: TestClient, app: Starlette, folder: Path, photograph: Callable[..., Path]
) -> None:
    # Settings, bare backlight and second photograph: graded in this process, as `grade` would with the same files.
    (name,) = app.state.bench.folder.photographs
    photograph(folder / "again.png", level=0.5)
    cv2.imwrite(str(folder / "bare.png"), np.full((400, 400, 3), 220, np.uint8))
    (folder / "own.toml").write_text("index = 1.56\n", "utf-8")
    (folder / "away.toml").symlink_to(folder.parent / "elsewhere.toml")
    assert app.state.bench.folder.tables == ("own.toml",)
    assert "<option>own.toml</option>" in client.get("/").text
    words = {"settings": "own.toml", "blank": "bare.png", "again": "again.png", "strict": "yes", "planted": "yes"}
    task = task_from(words, app.state.bench.folder, version="0.1")
    assert (task.settings.index, task.blank, task.again) == (1.56, folder / "bare.png", folder / "again.png")
    assert task.strict
    assert task.request.planted
    assert task_from({**words, "index": "1.52"}, app.state.bench.folder, version="0.1").settings.index == 1.52
    check_alone(task, [name])
    assert client.post("/tray/grade", json={**words, "names": [name]}).json()["of"] == 1
    client.post("/tray/cancel", json={"names": [name]})
    job = Job(folder / name, folder / "bench" / name, replace(task, again=None, strict=False))
    assert graded_into(job) == ""
    run = json.loads((folder / "bench" / name / "run.json").read_text("utf-8"))
    assert run["settings"]["index"] == 1.56
    assert run["request"]["blank_sha256"] == sha256((folder / "bare.png").read_bytes()).hexdigest()


def test_a_calibrated_lens_is_taken_from_the_folder_and_known_again_from_the_result(
    app: Starlette, folder: Path
) -> None:
    lens = Lens((400, 400), 520.0, 2.5, 0.0125, 0.001, -0.25, 0.002, source="calibrated")
    (folder / "phone.toml").write_text(lens_text(Calibration(lens, 0.1, 9)), "utf-8")
    words = {"scale": "card", "lens": "phone.toml", "height": "400mm", "printed": "99.2mm"}
    card = task_from(words, app.state.bench.folder, version="0.1").request.card
    assert card is not None
    assert card.lens is not None
    assert (card.printed_mm, card.camera_height_mm) == (99.2, 400.0)
    assert replace(card.lens, source="calibrated") == lens
    place = folder / "bench" / NAME / "run.json"
    run = json.loads(place.read_text("utf-8"))
    run["request"]["card"] = asdict(card)
    place.write_text(json.dumps(run), "utf-8")
    assert app.state.bench.castings.of(NAME).card == card


@pytest.mark.parametrize(
    ("names", "line"),
    [
        ([NAME, "bare.png"], "a second photograph settles one casting, 2 are named"),
        (["bare.png"], "bare.png is the bare backlight here"),
        (["again.png"], "again.png is the second photograph here"),
    ],
)
def test_a_photograph_is_not_graded_with_itself(
    client: TestClient, folder: Path, photograph: Callable[..., Path], names: list[str], line: str
) -> None:
    for other in ("again.png", "bare.png"):
        photograph(folder / other)
    answer = client.post("/tray/grade", json={"blank": "bare.png", "again": "again.png", "names": names})
    assert line in answer.json()["fault"]


@pytest.mark.parametrize(
    "body", [b"", b"[]", b"{}", b"nonsense", b'{"names": "a"}', b"[" * 100_000, b'"' + 300_000 * b"x"]
)
def test_what_is_no_form_is_refused(client: TestClient, body: bytes) -> None:
    for path in ("/tray/grade", "/tray/cancel"):
        assert client.post(path, content=body).status_code in {400, 404}


@pytest.mark.parametrize("name", ["../x.png", "none.png", "bench"])
def test_only_what_is_on_the_tray_is_graded_or_cancelled(client: TestClient, name: str) -> None:
    assert client.post("/tray/grade", json={"names": [name]}).status_code == 404
    assert client.post("/tray/cancel", json={"names": [name]}).status_code == 404


def test_the_tray_shows_what_was_found_and_escapes_names(client: TestClient) -> None:
    page = client.get("/").text
    assert "5 voids" in page
    assert "&lt;b&gt;" in page
    assert "<b>" not in page


def test_what_was_graded_before_stands_on_the_tray_where_it_could_not_be_graded_again(client: TestClient) -> None:
    client.post("/tray/grade", json={"names": [NAME]})
    cards = client.post("/tray/cancel", json={"names": [NAME]}).json()["cards"]
    assert "5 voids" in cards
    assert "not graded again</strong>, so these are the numbers from before: cancelled" in cards
    assert 'class="card graded"' in cards
    assert "not graded yet" not in cards


def test_a_fault_names_a_photograph_of_the_folder_by_its_name(app: Starlette, folder: Path) -> None:
    line = f"{folder / 'turned.png'} does not show the voids of a.png"
    assert app.state.bench.folder.shortened(line) == "turned.png does not show the voids of a.png"


def test_a_folder_that_is_removed_is_said_and_what_is_put_back_is_there_again(
    client: TestClient, folder: Path, picture: bytes
) -> None:
    away = folder.with_name("away")
    shutil.move(folder, away)
    for answer in (client.get("/"), client.get("/tray/progress"), client.put("/tray/drop?name=a.png", content=picture)):
        assert answer.status_code in {400, 507}
        assert "\n" not in answer.json()["fault"]
    assert "put the folder back" in client.get("/", headers={"accept": "text/html"}).text
    shutil.move(away, folder)
    assert "5 voids" in client.get("/").text


@pytest.mark.skipif(os.geteuid() == 0, reason="needs a user whom rights bind")
def test_a_folder_that_cannot_be_written_to_is_said(client: TestClient, folder: Path, picture: bytes) -> None:
    folder.chmod(0o500)
    status, words = drop(client, "new.png", picture)
    folder.chmod(0o700)
    assert (status, "cannot be written" in words["fault"]) == (507, True)


def test_a_result_that_cannot_be_read_is_told_on_its_card(client: TestClient, folder: Path, app: Starlette) -> None:
    (name,) = app.state.bench.folder.photographs
    (folder / "bench" / name / "run.json").write_text("{}")
    page = client.get("/").text
    assert "cannot be shown" in page
    assert "grade it again" in page


def test_an_address_that_leads_nowhere_is_a_page(client: TestClient) -> None:
    answer = client.get("/nowhere")
    assert answer.status_code == 404
    assert "There is nothing at this address" in answer.text


@pytest.mark.parametrize(
    "path", ["/static/../app.py", "/static/%2e%2e/app.py", "/static//etc/passwd", "/static/..%2f..%2ferrors.py"]
)
def test_nothing_but_the_pages_own_files_is_static(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


def test_twenty_at_once_all_wait_their_turn_and_can_all_be_cancelled(
    client: TestClient, tmp_path: Path, photograph: Callable[..., Path]
) -> None:
    picture = photograph(tmp_path / "one.png").read_bytes()
    for number in range(20):
        assert drop(client, f"many-{number:02}.png", picture)[0] == 200
    words = client.get("/tray/progress").json()
    assert (words["done"], words["of"]) == (0, 20)
    names = [f"many-{number:02}.png" for number in range(20)]
    words = client.post("/tray/cancel", json={"names": names}).json()
    assert words["of"] == 0
    assert words["cards"].count("cancelled: grade it again when you like") == 20
