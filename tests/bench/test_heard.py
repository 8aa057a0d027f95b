"""What a screen reader is told while the bench works, where the keys are then, what shows without colour or motion."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from tests.bench.conftest import Shop, linked
from tests.bench.driving import check_access, coloured, keys, press, until, wide, write


@pytest.fixture
def address(tmp_path: Path, whole_shop: Shop, running: Callable[..., Any]) -> Iterator[str]:
    """Return where a bench on a copy of the workshop runs."""
    folder = shutil.copytree(whole_shop.folder, tmp_path / "shop", copy_function=linked)
    for number in range(2):  # one grey all over shows no casting
        cv2.imwrite(str(folder / f"no-{number}.png"), np.full((400, 400), 128 + number, np.uint8))
    with running(folder, folder / whole_shop.log.name) as url:
        yield url


@pytest.fixture(autouse=True)
def _plain_screen(browser: webdriver.Chrome) -> Iterator[None]:
    wide(browser, 1440)
    yield
    coloured(browser, "")


def heard(browser: webdriver.Chrome, node: str) -> dict[str, Any]:
    """Return what the browser tells a screen reader of an element."""
    element = browser.execute_cdp_cmd("Runtime.evaluate", {"expression": f"document.querySelector('{node}')"})
    told = browser.execute_cdp_cmd(
        "Accessibility.getPartialAXTree", {"objectId": element["result"]["objectId"], "fetchRelatives": False}
    )["nodes"][0]
    properties = {one["name"]: one["value"].get("value") for one in told["properties"]}
    return {**properties, "description": told.get("description", {}).get("value", ""), "role": told["role"]["value"]}


def focused(browser: webdriver.Chrome, selector: str) -> bool:
    return bool(browser.execute_script("return document.activeElement.matches(arguments[0])", selector))


def test_what_became_of_photographs_is_told_when_the_last_is_done(browser: webdriver.Chrome, address: str) -> None:
    browser.get(address)
    assert heard(browser, "#heard")["role"] == "status"
    press(browser, '[data-grade="no-0.png"]')
    until(browser, "#heard", "no-0.png: not graded: ")
    browser.find_element(By.NAME, "scale").send_keys("millimetres per pixel")
    write(browser, "[name=length]", "0.05")
    press(browser, '[data-grade="jig-b.png"]')
    until(browser, "#heard", "jig-b.png: 1 void, clarity ")
    press(browser, "#all")
    until(browser, "#heard", " of 4 photographs graded. ")
    said = browser.find_element(By.ID, "heard").get_property("textContent")
    assert "no-0.png: not graded: " in said
    assert "no-1.png: not graded: " in said


def test_a_wrong_field_is_heard_as_wrong_with_the_reason(browser: webdriver.Chrome, address: str) -> None:
    browser.get(address)
    browser.execute_script("document.querySelector('[name=index]').value = '9'")  # in a part that is closed
    press(browser, '[data-grade="cup-0.png"]')
    until(browser, "#coming .alarm")
    index = heard(browser, "[name=index]")
    assert index["invalid"] == "true"
    assert index["description"] == browser.find_element(By.CSS_SELECTOR, "#coming .alarm").text
    browser.get(f"{address}/hold")
    for name, value in (("time", "0min"), ("gauge", "60psi")):
        write(browser, f"[data-row] [name={name}]", value)
    for name, value in (("time", "2h"), ("gauge", "59x")):
        write(browser, f"[data-row] + [data-row] [name={name}]", value)
    keys(browser, Keys.ENTER)
    until(browser, "#fault .alarm", "59x")
    check_access(browser)
    gauge = "[data-row] + [data-row] [name=gauge]"
    assert heard(browser, gauge)["description"] == browser.find_element(By.CSS_SELECTOR, "#fault .alarm").text
    assert len(browser.find_elements(By.CSS_SELECTOR, "[aria-invalid]")) == 1
    write(browser, gauge, "59psi")
    keys(browser, Keys.ENTER)
    until(browser, "#answer h2")
    assert heard(browser, gauge)["invalid"] == "false"


def test_corners_that_are_none_are_marked_until_another_tool_is_taken_up(
    browser: webdriver.Chrome, address: str
) -> None:
    browser.get(f"{address}/casting/cup-0.png")
    until(browser, "#undo")
    press(browser, "[data-tool=area]")
    write(browser, "#area [name=corners]", "here")
    keys(browser, Keys.ENTER)
    until(browser, "#fault", "here are no points")
    assert heard(browser, "#area [name=corners]")["invalid"] == "true"
    write(browser, "#area [name=corners]", "1,1 2,1 9000,2")  # points, but none of this photograph
    keys(browser, Keys.ENTER)
    until(browser, "#fault", "lies outside the photograph")
    assert heard(browser, "#area [name=corners]")["invalid"] == "true"
    write(browser, "#area [name=corners]", "1,1 2,1 2,2")
    keys(browser, Keys.ENTER)
    until(browser, "#fault:empty")
    assert heard(browser, "#area [name=corners]")["invalid"] == "false"


def test_of_an_answer_its_verdict_alone_is_told(browser: webdriver.Chrome, address: str) -> None:
    browser.get(f"{address}/hold")
    until(browser, "#heard", "Close the pot, let it settle")
    for row, (time, gauge) in zip(
        browser.find_elements(By.CSS_SELECTOR, "[data-row]"), (("0min", "60psi"), ("12h", "30psi")), strict=True
    ):
        row.find_element(By.NAME, "time").send_keys(time)
        row.find_element(By.NAME, "gauge").send_keys(gauge)
    keys(browser, Keys.ENTER)
    until(browser, "#heard", "The pot leaks.")
    lead = browser.find_element(By.CSS_SELECTOR, "#answer .lead").text
    assert browser.find_element(By.ID, "heard").get_property("textContent") == lead
    assert not heard(browser, "#answer").get("live")
    browser.get(f"{address}/log/1")
    write(browser, "#note [name=text]", "valve hissed")
    keys(browser, Keys.ENTER)
    until(browser, "#heard", "The note is in the log.")
    assert not heard(browser, "#answer").get("live")


def test_the_keys_stay_at_the_form_when_the_button_that_was_pressed_goes(
    browser: webdriver.Chrome, address: str
) -> None:
    browser.get(f"{address}/trial")
    until(browser, "#answer .note")
    browser.execute_script("""
        const real = window.fetch;
        window.fetch = (url, how) => url.includes("answer") ? new Promise(() => {}) : real(url, how);
        document.querySelector("#asked .main").click();
        document.getElementById("stop").focus();
    """)  # a bench that is slow
    keys(browser, Keys.ENTER)
    until(browser, "#fault .alarm", "Cancelled")
    assert focused(browser, "#asked .main")


def test_what_is_pressed_and_where_one_is_shows_without_the_colours_of_the_page(
    browser: webdriver.Chrome, address: str
) -> None:
    def ground(selector: str) -> str:
        return browser.find_element(By.CSS_SELECTOR, selector).value_of_css_property("background-color")

    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [{"name": "forced-colors", "value": "active"}]})
    browser.get(f"{address}/casting/cup-0.png")
    until(browser, "#undo")
    assert ground("[data-tool=look]") != ground("[data-tool=add]")
    browser.get(f"{address}/hold")
    assert ground("nav [aria-current]") != ground("nav li:first-child a")


def test_who_wants_no_motion_sees_a_far_mark_at_once(browser: webdriver.Chrome, address: str) -> None:
    browser.execute_cdp_cmd(
        "Emulation.setEmulatedMedia", {"features": [{"name": "prefers-reduced-motion", "value": "reduce"}]}
    )
    browser.get(f"{address}/casting/cup-0.png")
    until(browser, "#legend .count")
    for _ in range(4):
        press(browser, ".leaflet-control-zoom-in")
        assert not browser.find_elements(By.CSS_SELECTOR, ".leaflet-zoom-anim")
    for _ in range(3):
        press(browser, "#next")
        assert not browser.find_elements(By.CSS_SELECTOR, ".leaflet-pan-anim")


def test_the_photograph_takes_the_arrow_keys_from_a_screen_reader(browser: webdriver.Chrome, address: str) -> None:
    browser.get(f"{address}/casting/cup-0.png")
    assert heard(browser, "#view")["role"] == "application"
    browser.get(f"{address}/beside?left=cup-0.png&right=cup-60.png")
    assert heard(browser, "#left")["role"] == "application"
