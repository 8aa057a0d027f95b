"""What a casting's page tells those who work through its marks by keys: what became of each, and where they are."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.wait import WebDriverWait

from tests.bench.driving import LONG_S, press, until, wide, write

DRAWN_PX = (30, 26, 22, 18, 14)  # the voids of the cup, the largest first


@pytest.fixture
def page(browser: webdriver.Chrome, folder: Path, running: Callable[[Path], Any]) -> Iterator[webdriver.Chrome]:
    """Return the browser on the page of a graded cup."""
    with running(folder) as address:
        wide(browser, 1440)
        browser.get(address)
        until(browser, ".card.graded").find_element(By.CSS_SELECTOR, ".sight").click()
        until(browser, "#told .lead", "5 voids")
        WebDriverWait(browser, LONG_S, 0.02).until(lambda d: d.find_elements(By.CSS_SELECTOR, "#view canvas"))
        yield browser
        browser.get("about:blank")


def across(browser: webdriver.Chrome) -> int:
    """Return the diameter of the chosen void."""
    return round(float(str(browser.find_element(By.CSS_SELECTOR, "#look [name=diameter]").get_property("value"))))


def keys(browser: webdriver.Chrome, *pressed: str) -> None:
    ActionChains(browser).send_keys(*pressed).perform()


def test_after_a_void_is_removed_the_next_one_follows_and_not_the_first_again(page: webdriver.Chrome) -> None:
    for size in DRAWN_PX[:3]:
        press(page, "#next")
        assert across(page) == size
    keys(page, Keys.DELETE)
    until(page, "#told .lead", "4 voids")
    press(page, "#next")
    assert across(page) == DRAWN_PX[3]
    press(page, "#before")
    assert across(page) == DRAWN_PX[1]


def test_each_change_is_told_where_a_screen_reader_hears_it(page: webdriver.Chrome) -> None:
    assert page.find_element(By.ID, "says").get_attribute("aria-live") == "polite"
    press(page, "#next")
    keys(page, Keys.DELETE)
    until(page, "#says", "Now 4 voids, clarity ")
    press(page, "#undo")
    until(page, "#says", "Now 5 voids, clarity ")
    press(page, "#next")
    write(page, "#look [name=diameter]", "40")
    press(page, "#look [value=resize]")
    until(page, "#says", "void, 40.0 ± ")
    until(page, "#says", "; now 5 voids, clarity ")


def test_a_void_added_outside_the_judged_area_is_said_to_be_left_out(page: webdriver.Chrome) -> None:
    press(page, "[data-tool=add]")
    for name, value in (("x", "3"), ("y", "3"), ("diameter", "20")):
        write(page, f"#add [name={name}]", value)
    press(page, "#add .main")
    until(page, "#says", "at x 3.0, y 3.0, left out of the judged area")
    until(page, "#says", "; now 5 voids, clarity ")


def test_where_nothing_lies_the_middle_of_the_view_says_so(page: webdriver.Chrome) -> None:
    page.execute_script("document.getElementById('view').focus()")  # type: ignore[no-untyped-call]
    for _ in range(12):
        keys(page, Keys.ARROW_UP)
    WebDriverWait(page, LONG_S, 0.02).until(
        lambda driver: driver.execute_script("return !document.querySelector('.leaflet-pan-anim')")
    )
    keys(page, Keys.ENTER)
    until(page, "#says", "No mark at x ")


def test_corners_written_by_hand_are_gone_on_from_by_the_next_point(page: webdriver.Chrome) -> None:
    press(page, "[data-tool=area]")
    write(page, "#area [name=corners]", "10,10 90,10")
    page.execute_script("document.getElementById('view').focus()")  # type: ignore[no-untyped-call]
    keys(page, Keys.ENTER)
    until(page, "#says", "Point 3 at x ")
    text = str(page.find_element(By.CSS_SELECTOR, "#area [name=corners]").get_property("value"))
    assert text.startswith("10.0,10.0 90.0,10.0 ")
