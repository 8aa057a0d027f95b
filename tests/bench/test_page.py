"""The page in a real browser: drop, grade, correct, undo, reload; on a phone's width and a desk's."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.wait import WebDriverWait

from tests.bench.driving import (
    LONG_S,
    WIDTHS,
    check_access,
    check_alone,
    coloured,
    drop,
    press,
    tabbed,
    until,
    wide,
    write,
)

NAME = 'cup "100%25" <b> Zoë\'s.png'


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder on the bench."""
    return tmp_path_factory.mktemp("bench")


@pytest.fixture(scope="module")
def address(place: Path, running: Callable[[Path], Any]) -> Iterator[str]:
    """Return where the bench runs."""
    with running(place) as url:
        yield url


@pytest.fixture(scope="module")
def casting(browser: webdriver.Chrome, address: str, place: Path, photograph: Callable[..., Path]) -> str:
    """Drop a photograph with a name full of tricks, wait until it is graded, and return its page's address."""
    dropped = photograph(place.with_name("from-a-phone") / NAME)
    browser.get(address)
    browser.find_element(By.NAME, "scale").send_keys("the casting's widest")
    browser.find_element(By.NAME, "length").send_keys("30mm")
    drop(browser, "#drop", dropped)
    card = until(browser, ".card.graded")
    assert "5 voids" in card.text
    return str(card.find_element(By.CSS_SELECTOR, ".sight").get_attribute("href"))


@pytest.fixture(autouse=True)
def _as_graded(place: Path) -> None:
    """Take back what an earlier test has corrected."""
    for corrections in place.glob("bench/*/corrections.jsonl"):
        corrections.unlink()


def opened(browser: webdriver.Chrome, url: str, width: int = 1440) -> None:
    """Open a casting's page and wait for its marks."""
    wide(browser, width)
    browser.get(url)
    until(browser, "#undo")
    WebDriverWait(browser, LONG_S, 0.02).until(lambda d: d.find_elements(By.CSS_SELECTOR, "#view canvas"))
    WebDriverWait(browser, LONG_S, 0.02).until(
        lambda d: d.execute_script("return [...document.querySelectorAll('#view img')].every(i => i.complete)")
    )


def is_of_3_mm(browser: webdriver.Chrome) -> bool:
    """Say whether the page tells of a void of 3 mm, within what it tells as its uncertainty."""
    told = re.match(r"void, ([0-9.]+) ± ([0-9.]+) mm", browser.find_element(By.ID, "says").text)
    assert told is not None
    return abs(float(told[1]) - 3.0) <= float(told[2]) < 0.1


def lead(browser: webdriver.Chrome, words: str) -> None:
    """Wait until the casting is summed up in these words."""
    until(browser, "#told .lead", words)


@pytest.mark.parametrize("width", WIDTHS)
def test_a_void_is_removed_undone_redone_and_stays_so_after_a_reload(
    browser: webdriver.Chrome, casting: str, width: int
) -> None:
    opened(browser, casting, width)
    lead(browser, "5 voids")
    press(browser, "#next")
    assert is_of_3_mm(browser)  # the largest: 30 px, drawn on a cup of 300 px, 30 mm
    press(browser, "#look [value=remove]")
    lead(browser, "4 voids")
    press(browser, "#undo")
    lead(browser, "5 voids")
    press(browser, "#redo")
    lead(browser, "4 voids")
    opened(browser, casting, width)
    lead(browser, "4 voids")
    assert "corrected" in browser.find_element(By.ID, "told").text
    press(browser, "#undo")
    lead(browser, "5 voids")


def test_a_void_is_added_with_two_clicks_on_its_edge(browser: webdriver.Chrome, casting: str) -> None:
    opened(browser, casting, WIDTHS[0])
    lead(browser, "5 voids")
    press(browser, "[data-tool=add]")
    view = browser.find_element(By.ID, "view")
    browser.execute_script("arguments[0].scrollIntoView({block: 'center'})", view)
    for right in (-20, 20):
        ActionChains(browser).move_to_element_with_offset(view, right, -10).click().perform()
    across = float(browser.find_element(By.CSS_SELECTOR, "#add [name=diameter]").get_attribute("value") or 0)
    assert across > 5
    press(browser, "#add .main")
    lead(browser, "6 voids")
    press(browser, "#undo")
    lead(browser, "5 voids")


def test_everything_can_be_corrected_by_keys_and_numbers_alone(browser: webdriver.Chrome, casting: str) -> None:
    opened(browser, casting)
    press(browser, "[data-tool=area]")
    write(browser, "#area [name=corners]", "0,0 399,0 399,200 0,200" + Keys.ENTER)
    until(browser, "#told .steps", "left an area out")
    until(browser, "#told .changed", "judged")
    press(browser, "[data-tool=zone]")
    write(browser, "#zone [name=name]", "belly")
    write(browser, "#zone [name=corners]", "0,200 399,200 399,399 0,399" + Keys.ENTER)
    until(browser, "#told th", "belly")
    press(browser, "[data-tool=scale]")
    write(browser, "#scale [name=distance]", "60")
    write(browser, "#scale [name=corners]", "50,200 350,200" + Keys.ENTER)
    until(browser, "#told .changed", "two points 60 mm apart")
    for steps in (4, 5, 6):
        press(browser, "#undo")
        until(browser, "#told summary", f"{steps} steps so far")
    lead(browser, "5 voids")


def test_a_void_is_removed_taken_back_and_added_without_a_pointer(browser: webdriver.Chrome, casting: str) -> None:
    def keys(*pressed: str) -> None:
        ActionChains(browser).send_keys(*pressed).perform()

    def at() -> str:
        return str(browser.execute_script("return document.activeElement.id"))

    opened(browser, casting)
    tabbed(browser, "#next")
    keys(Keys.ENTER)
    until(browser, "#says", "void, ")
    keys(Keys.DELETE)
    lead(browser, "4 voids")
    assert at() == "next"
    keys(Keys.ENTER)
    tabbed(browser, "#look [value=remove]")
    keys(Keys.ENTER)
    lead(browser, "3 voids")
    assert at() == "next"  # the button that was pressed can be pressed no more
    tabbed(browser, "#undo")
    keys(Keys.ENTER)
    lead(browser, "4 voids")
    assert at() == "undo"
    keys(Keys.ENTER)
    lead(browser, "5 voids")
    assert at() == "redo"  # nothing is left to undo
    tabbed(browser, "[data-tool=add]")
    keys(Keys.ENTER)
    browser.execute_script("document.getElementById('view').focus()")
    keys(Keys.ENTER)
    until(browser, "#says", "Point 1 at x ")
    still = "return !document.querySelector('.leaflet-pan-anim')"
    for _ in range(3):
        keys(Keys.ARROW_RIGHT)
        WebDriverWait(browser, LONG_S, 0.02).until(lambda driver: driver.execute_script(still))
    keys(Keys.ENTER)
    until(browser, "#says", "Point 2 at x ")
    across = browser.find_element(By.CSS_SELECTOR, "#add [name=diameter]").get_property("value")
    assert float(str(across)) > 5.0
    tabbed(browser, "#add .main")
    keys(Keys.ENTER)
    lead(browser, "6 voids")


def test_a_slip_is_told_and_nothing_changes(browser: webdriver.Chrome, casting: str) -> None:
    opened(browser, casting)
    press(browser, "[data-tool=area]")
    write(browser, "#area [name=corners]", "here and there" + Keys.ENTER)
    until(browser, "#fault", "are no points: write x,y for each")
    write(browser, "#area [name=corners]", "9000,1 2,2 3,9" + Keys.ENTER)
    until(browser, "#fault", "lies outside the photograph")
    lead(browser, "5 voids")


def test_a_page_that_is_behind_shows_what_another_has_done(browser: webdriver.Chrome, casting: str) -> None:
    opened(browser, casting)
    first = browser.current_window_handle
    browser.switch_to.new_window("tab")
    opened(browser, casting)
    press(browser, "#next")
    press(browser, "#look [value=remove]")
    lead(browser, "4 voids")
    browser.close()
    browser.switch_to.window(first)
    press(browser, "#next")
    press(browser, "#look [value=remove]")
    until(browser, "#fault", "was corrected on another page")
    lead(browser, "4 voids")
    press(browser, "#undo")
    lead(browser, "5 voids")


def test_the_pointer_is_told_what_it_is_on_and_filters_take_marks_off(browser: webdriver.Chrome, casting: str) -> None:
    opened(browser, casting)
    view = browser.find_element(By.ID, "view")
    # The void drawn 10 right of and 5 below the middle: at the middle of the view within its radius of 15 px.
    ActionChains(browser).move_to_element(view).perform()
    until(browser, "#says", "void, ")
    assert is_of_3_mm(browser)
    for box in browser.find_elements(By.CSS_SELECTOR, "#legend input[value^=size]"):
        box.click()
    press(browser, "#next")
    assert "void, " not in browser.find_element(By.ID, "chosen").text


def test_blinking_goes_through_photograph_transmittance_and_marks(browser: webdriver.Chrome, casting: str) -> None:
    opened(browser, casting)
    press(browser, "#blink")
    assert browser.find_element(By.ID, "blink").get_attribute("aria-pressed") == "true"
    seen = "return [...document.querySelectorAll('#view .leaflet-layer')].filter(e => e.style.opacity === '1').length"
    WebDriverWait(browser, LONG_S, 0.02).until(
        lambda d: d.execute_script("return document.querySelectorAll('#view .leaflet-layer').length") == 2
    )
    assert browser.execute_script(seen) == 1
    press(browser, "#blink")
    assert browser.find_element(By.ID, "blink").get_attribute("aria-pressed") == "false"


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1440, "dark")])
def test_no_page_has_a_serious_fault_of_access_or_is_wider_than_its_window(
    browser: webdriver.Chrome, address: str, casting: str, width: int, scheme: str
) -> None:
    coloured(browser, scheme)
    others = (f"{address}/join", f"{address}/casting/none") if width == WIDTHS[0] else ()
    for url in (casting, address, *others):
        if url == casting:
            opened(browser, url, width)
        else:
            browser.get(url)
        check_access(browser)
    coloured(browser, "")


def test_nothing_is_asked_of_anybody_else_and_nothing_is_complained_of(
    browser: webdriver.Chrome, address: str, casting: str
) -> None:
    for url in (address, casting):
        browser.get_log("browser")  # type: ignore[no-untyped-call]
        browser.get(url)
        until(browser, "#view img" if url == casting else ".card img")
        press(browser, "#blink") if url == casting else None
        check_alone(browser, address)


def test_what_is_no_picture_is_refused_on_the_tray(
    browser: webdriver.Chrome, address: str, casting: str, tmp_path: Path
) -> None:
    assert casting
    (tmp_path / "note.jpg").write_text("not a picture")
    browser.get(address)
    browser.find_element(By.ID, "files").send_keys(str(tmp_path / "note.jpg"))
    until(browser, "#coming .alarm", "note.jpg is not a JPEG, PNG or TIFF picture")


def test_the_form_stays_as_it_was_written_while_the_tab_is_open(browser: webdriver.Chrome, address: str) -> None:
    browser.get(address)
    browser.find_element(By.NAME, "scale").send_keys("the casting's widest")
    write(browser, "[name=length]", "44mm")
    browser.execute_script("document.querySelector('.more').open = true")
    write(browser, "[name=index]", "1.56")
    press(browser, "[name=strict]")
    for again in (browser.refresh, lambda: browser.get(address)):
        again()
        until(browser, "#asked")
        held = {name: browser.find_element(By.NAME, name) for name in ("scale", "length", "index", "strict", "whole")}
        WebDriverWait(browser, LONG_S, 0.02).until(lambda _, held=held: held["length"].get_property("value"))
        assert [held[name].get_property("value") for name in ("scale", "length", "index")] == ["width", "44mm", "1.56"]
        assert held["strict"].is_selected()
        assert not held["whole"].is_selected()
        assert held["index"].is_displayed()  # nothing that counts is folded away
    browser.execute_script("sessionStorage.clear()")


def test_a_bench_that_has_ended_is_told_and_all_that_waits_is_cancelled_at_once(
    browser: webdriver.Chrome, tmp_path: Path, photograph: Callable[..., Path], running: Callable[[Path], Any]
) -> None:
    picture = photograph(tmp_path / "bench" / "cup-0.png").read_bytes()
    for number in range(1, 12):
        (tmp_path / "bench" / f"cup-{number}.png").write_bytes(picture + bytes([number]))
    with running(tmp_path / "bench") as url:
        browser.get(url)
        until(browser, "#all:not([hidden])")
        press(browser, "#all")
        until(browser, "#under:not([hidden]) #done", "of 12")
        press(browser, "#stop")
        until(browser, "#under[hidden]")
        assert browser.execute_script("return document.activeElement.className") == "sight"  # not lost to keys
        told = [card.text for card in browser.find_elements(By.CSS_SELECTOR, ".card")]
        assert sum("cancelled: grade it again when you like" in card for card in told) >= 10
        press(browser, "#all")
        until(browser, "#under:not([hidden])")
    until(browser, "#done", "The bench does not answer: start it again")
    browser.get("about:blank")
