"""What the tests of the page do in a real browser: opening, waiting, pressing, writing, and asking axe-core."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import pytest
from selenium import webdriver
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.wait import WebDriverWait

AXE: Final = (Path(__file__).parent / "axe.min.js").read_text("utf-8")  # axe-core 4.10.3, MPL 2.0
SERIOUS: Final = ("serious", "critical")
WIDTHS: Final = (390, 1440)
LONG_S: Final = 60
MOST_TABS: Final = 120  # stops of the longest page


def wide(browser: webdriver.Chrome, width: int) -> None:
    """Make the window so wide."""
    metrics = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)


def coloured(browser: webdriver.Chrome, scheme: str) -> None:
    """Prefer light or dark; an empty word prefers nothing."""
    features = [{"name": "prefers-color-scheme", "value": scheme}] if scheme else []
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})


def until(browser: webdriver.Chrome, selector: str, words: str = "") -> Any:
    """Return the first such element that says `words`, as soon as there is one."""

    def found(driver: webdriver.Chrome) -> Any:
        text = "return [...document.querySelectorAll(arguments[0])].find(e => e.textContent.includes(arguments[1]))"
        return driver.execute_script(text, selector, words)

    return WebDriverWait(browser, LONG_S, 0.02).until(found)


def press(browser: webdriver.Chrome, selector: str) -> None:
    """Click on an element in the middle of the window."""
    button = browser.find_element(By.CSS_SELECTOR, selector)
    browser.execute_script("arguments[0].scrollIntoView({block: 'center'})", button)
    button.click()


def drop(browser: webdriver.Chrome, selector: str, file: Path) -> None:
    """Drop a file on an element as a hand does, through the browser's own input."""
    zone = browser.find_element(By.CSS_SELECTOR, selector)
    place = browser.execute_script("const r = arguments[0].getBoundingClientRect(); return [r.x + 20, r.y + 20]", zone)
    data = {"items": [], "files": [str(file)], "dragOperationsMask": 1}
    for step in ("dragEnter", "dragOver", "drop"):
        told = {"type": step, "x": place[0], "y": place[1], "data": data}
        browser.execute_cdp_cmd("Input.dispatchDragEvent", told)


def write(browser: webdriver.Chrome, selector: str, text: str) -> None:
    """Write into an empty field."""
    field = browser.find_element(By.CSS_SELECTOR, selector)
    field.clear()
    field.send_keys(text)


def check_access(browser: webdriver.Chrome) -> None:
    """Check that the page has no serious fault of access and is not wider than its window."""
    browser.execute_script(AXE)
    told = browser.execute_async_script("axe.run().then(arguments[arguments.length - 1])")
    faults = [(one["id"], one["nodes"][0]["html"]) for one in told["violations"] if one["impact"] in SERIOUS]
    assert faults == [], browser.current_url
    width = browser.execute_script("return document.documentElement.scrollWidth")
    assert width <= browser.execute_script("return window.innerWidth") + 1, browser.current_url


def check_alone(browser: webdriver.Chrome, address: str) -> None:
    """Check that the page asked nothing of anybody else and that the browser complained of nothing."""
    assert browser.get_log("browser") == []  # type: ignore[no-untyped-call]
    asked = browser.execute_script("return performance.getEntriesByType('resource').map(e => e.name)")
    assert asked
    assert [name for name in asked if not name.startswith(address)] == []


def keys(browser: webdriver.Chrome, *pressed: str) -> None:
    """Press keys, wherever the page has its focus."""
    ActionChains(browser).send_keys(*pressed).perform()


def tabbed(browser: webdriver.Chrome, selector: str) -> None:
    """Go on with the tabulator until such an element is reached."""
    for _ in range(MOST_TABS):
        keys(browser, Keys.TAB)
        if browser.execute_script("return document.activeElement.matches(arguments[0])", selector):
            return
    pytest.fail(f"the tabulator never comes to {selector}")
