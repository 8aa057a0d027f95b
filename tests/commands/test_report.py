"""`--report` of every command that has it, and the page in a real browser."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path

import pytest
from selenium import webdriver
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from tests.bench.driving import WIDTHS, check_access, wide
from tests.command_line import bubblegrade

SAMPLES = Path(__file__).parents[2] / "sample_images"
HOLD = ("hold", "0min=60psi@24C", "12h=59.5psi@23C", "--settled", "20min", "--release", "12h")
WINDOW = ("window", "60psi", "--gel-time", "20min", "--mix", "3min")


@pytest.fixture(scope="module")
def graded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the report of a sample cup and lure."""
    folder = tmp_path_factory.mktemp("report")
    photos = (SAMPLES / "cup-60psi-a.jpg", SAMPLES / "cup-clear-a.jpg")
    result = bubblegrade("grade", *photos, "--out", folder / "R", "--width", "36mm", "--report", folder / "report.html")
    assert result.exit_code == 0, result.output
    return folder / "report.html"


@pytest.fixture(scope="module")
def browser(chromium: Callable[[], AbstractContextManager[webdriver.Chrome]]) -> Iterator[webdriver.Chrome]:
    """Return a real browser without a screen."""
    with chromium() as driver:
        yield driver


def test_the_report_of_castings_has_the_numbers_of_the_table(graded: Path) -> None:
    text = graded.read_text("utf-8")
    for words in (
        "49 voids in 2 castings",
        "cup-60psi-a.jpg",
        "fit to measure",
        "smallest countable",
        "refractive index",
    ):
        assert words in text


@pytest.mark.parametrize(
    ("arguments", "words"),
    [(HOLD, "The pot holds."), (WINDOW, "The pressure stands in time.")],
    ids=["hold", "window"],
)
def test_other_commands_write_a_report_with_their_verdict_and_cautions(
    tmp_path: Path, arguments: tuple[str, ...], words: str
) -> None:
    result = bubblegrade(*arguments, "--report", tmp_path / "r.html")
    assert result.exit_code == 0, result.output
    text = (tmp_path / "r.html").read_text("utf-8")
    assert words in text
    assert "Never open a lid, loosen a clamp or lean over a lid under pressure" in text
    assert "<svg" in text


def test_a_trial_writes_its_report(tmp_path: Path) -> None:
    cups = [f"0psi={SAMPLES / 'cup-open-a.jpg'}", f"60psi={SAMPLES / 'cup-60psi-a.jpg'}"]
    bubblegrade("shrink", *cups, "--width", "36mm", "--out", tmp_path / "R", "--report", tmp_path / "r.html")
    text = (tmp_path / "r.html").read_text("utf-8")
    assert "Cups cast at several pressures" in text
    assert "Boyle" in text
    assert "cup-open-a.jpg" in text


def test_inspected_pieces_write_their_report(tmp_path: Path) -> None:
    limits, lure = tmp_path / "lure.toml", SAMPLES / "lure-plain-a.jpg"
    assert bubblegrade("inspect", "--write-limits", limits, "--preset", "clear-lure").exit_code == 0
    place = tmp_path / "r.html"
    result = bubblegrade(
        "inspect", lure, "--limits", limits, "--out", tmp_path / "R", "--width", "68mm", "--report", place,
        "--batch", "120", "--quality-limit", "1.0",
    )  # fmt: skip
    assert result.exit_code == 1, result.output
    text = place.read_text("utf-8")
    assert "1 piece inspected: 1 fail. Batch of 120: refuse." in text
    assert "largest allowed 0.4 mm" in text
    assert "ISO 2859-1" in text
    assert "with its zones and what broke a limit" in text


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("r.pdf", "is no page: name a file that ends in .html"),
        ("none/r.html", "name a file in a folder that exists"),
        ("there.html", "exists already: add --replace"),
    ],
)
def test_a_place_that_cannot_be_is_refused_before_any_work(tmp_path: Path, name: str, words: str) -> None:
    (tmp_path / "there.html").write_text("mine")
    result = bubblegrade(*WINDOW, "--report", tmp_path / name)
    assert result.exit_code == 2
    (line,) = result.stderr.splitlines()
    assert words in line
    assert (tmp_path / "there.html").read_text() == "mine"


@pytest.mark.parametrize("name", ["W/r.html", "W/pages/r.html", "W/../W/r.html"])
def test_a_report_may_lie_among_results_whose_folder_is_yet_to_be_made(tmp_path: Path, name: str) -> None:
    result = bubblegrade(*WINDOW, "--out", tmp_path / "W", "--report", tmp_path / name)
    assert result.exit_code == 0, result.output
    assert "<!doctype html>" in (tmp_path / name).read_text("utf-8")
    assert (tmp_path / "W" / "window.json").is_file()


def test_a_report_beside_results_that_do_not_come_is_refused_and_makes_no_folder(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    for out, name in (("W", "V/r.html"), ("file/W", "file/W/r.html")):
        result = bubblegrade(*WINDOW, "--out", tmp_path / out, "--report", tmp_path / name)
        assert result.exit_code == 2
        assert "name a file in a folder that exists" in result.stderr
    assert [place.name for place in tmp_path.iterdir()] == ["file"]


def test_an_earlier_report_is_replaced_when_asked(tmp_path: Path) -> None:
    (tmp_path / "there.html").write_text("old")
    assert bubblegrade(*WINDOW, "--report", tmp_path / "there.html", "--replace").exit_code == 0
    assert "<!doctype html>" in (tmp_path / "there.html").read_text("utf-8")


def test_the_pointer_is_told_the_size_of_a_void(browser: webdriver.Chrome, graded: Path) -> None:
    browser.set_window_size(1440, 900)
    browser.get(graded.as_uri())
    mark = browser.find_element(By.CSS_SELECTOR, ".photo circle")
    browser.execute_script("arguments[0].scrollIntoView({block: 'center'})", mark)
    ActionChains(browser).move_to_element(mark).perform()
    says = browser.find_element(By.CSS_SELECTOR, ".says").text
    assert says == mark.get_attribute("data-says")
    assert "mm, standard uncertainty" in says


def test_the_arrow_keys_go_through_the_voids(browser: webdriver.Chrome, graded: Path) -> None:
    browser.get(graded.as_uri())
    photo = browser.find_element(By.CSS_SELECTOR, ".photo")
    marks = photo.find_elements(By.CSS_SELECTOR, "[data-says]")
    photo.send_keys(Keys.ARROW_RIGHT, Keys.ARROW_RIGHT)
    assert browser.find_element(By.CSS_SELECTOR, ".says").text == marks[1].get_attribute("data-says")
    assert "told" in (marks[1].get_attribute("class") or "")


def test_marks_lie_on_the_photograph_at_every_width(browser: webdriver.Chrome, graded: Path) -> None:
    for width in (390, 1440):
        browser.set_window_size(width, 900)
        browser.get(graded.as_uri())
        image = browser.find_element(By.CSS_SELECTOR, ".photo img").rect
        overlay = browser.find_element(By.CSS_SELECTOR, ".photo svg").rect
        assert overlay["width"] == pytest.approx(image["width"], abs=1.5)
        assert overlay["height"] == pytest.approx(image["height"], abs=1.5)
        wide = browser.execute_script("return document.documentElement.scrollWidth")
        assert wide <= browser.execute_script("return window.innerWidth") + 1


def test_a_plot_is_not_blown_up_on_a_wide_page(browser: webdriver.Chrome, graded: Path) -> None:
    browser.set_window_size(1440, 900)
    browser.get(graded.as_uri())
    plot = browser.find_element(By.CSS_SELECTOR, ".plot svg")
    drawn_pt = float((plot.get_dom_attribute("width") or "").removesuffix("pt"))
    assert plot.rect["width"] == pytest.approx(drawn_pt * 96 / 72, abs=1.5)


def test_the_page_runs_without_a_complaint_and_asks_for_nothing(browser: webdriver.Chrome, graded: Path) -> None:
    browser.get_log("browser")  # type: ignore[no-untyped-call]
    browser.get(graded.as_uri())
    assert browser.get_log("browser") == []  # type: ignore[no-untyped-call]
    asked = browser.execute_script("return performance.getEntriesByType('resource').map(e => e.name)")
    assert [name for name in asked if not name.startswith("data:")] == []


@pytest.mark.parametrize("width", WIDTHS)
def test_no_report_has_a_serious_fault_of_access_or_is_wider_than_its_window(
    browser: webdriver.Chrome, graded: Path, tmp_path: Path, width: int
) -> None:
    for command in (HOLD, WINDOW):
        place = tmp_path / f"{command[0]}.html"
        assert bubblegrade(*command, "--report", place).exit_code == 0
    wide(browser, width)
    for place in (graded, tmp_path / "hold.html", tmp_path / "window.html"):
        browser.get(place.as_uri())
        check_access(browser)


def test_the_picture_with_marks_takes_the_arrow_keys_and_is_named_once(browser: webdriver.Chrome, graded: Path) -> None:
    browser.get(graded.as_uri())
    photo = browser.find_element(By.CSS_SELECTOR, ".photo")
    assert photo.aria_role == "application"  # a screen reader leaves it the arrow keys
    assert photo.accessible_name == "Photograph cup-60psi-a.jpg with 49 voids marked. Arrow keys go through the marks."
    assert photo.find_element(By.TAG_NAME, "img").accessible_name == ""


def test_a_plot_is_one_picture_with_its_words_and_a_table_names_every_row(
    browser: webdriver.Chrome, tmp_path: Path
) -> None:
    assert bubblegrade(*HOLD, "--free-volume", "9.5l", "--report", tmp_path / "r.html").exit_code == 0
    browser.get((tmp_path / "r.html").as_uri())
    heard = browser.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
    inside = {child for node in heard if node.get("role", {}).get("value") == "image" for child in node["childIds"]}
    assert [node for node in heard if node["nodeId"] in inside and not node["ignored"]] == []
    named = [th.text for th in browser.find_elements(By.CSS_SELECTOR, "th")]
    assert named.count("leak rate") == 3  # psi/h, Pa m3/s, std cm3/min
    assert "" not in named
