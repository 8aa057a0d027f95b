"""The other pages in a real browser: compare, trial, inspect, hold test, log; on a phone's width and a desk's."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.select import Select
from selenium.webdriver.support.wait import WebDriverWait

from tests.bench.conftest import Shop
from tests.bench.driving import (
    LONG_S,
    WIDTHS,
    check_access,
    check_alone,
    coloured,
    keys,
    press,
    tabbed,
    until,
    wide,
    write,
)

SCALES = """return ['left', 'right'].map((id) => {
  const image = document.querySelector(`#${id} .ground`);
  const picture = JSON.parse(document.getElementById(id).dataset.picture);
  const place = document.getElementById(id).getBoundingClientRect();
  const box = image.getBoundingClientRect();
  const shown = picture.sides[0][0] * 2 ** (picture.sides.length - 1);
  return [box.width / shown, place.x + place.width / 2 - box.x, place.y + place.height / 2 - box.y];
})"""


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory, whole_shop: Shop, running: Callable[..., Any]) -> Iterator[str]:
    """Return where a bench on a copy of the shop runs."""
    folder = shutil.copytree(whole_shop.folder, tmp_path_factory.mktemp("pages") / "shop")
    with running(folder, folder / whole_shop.log.name) as url:
        yield url


@pytest.fixture(autouse=True)
def _plain_screen(browser: webdriver.Chrome) -> Iterator[None]:
    browser.get_log("browser")  # type: ignore[no-untyped-call]
    yield
    coloured(browser, "")


def looked_at(browser: webdriver.Chrome, address: str) -> None:
    """Check the page as it is now: access, width, and that it was alone."""
    check_access(browser)
    check_alone(browser, address)


SCREENS = pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1440, "dark")])


@SCREENS
def test_two_castings_move_together_at_one_scale(
    browser: webdriver.Chrome, address: str, width: int, scheme: str
) -> None:
    wide(browser, width)
    coloured(browser, scheme)
    browser.get(f"{address}/beside")
    Select(browser.find_element(By.NAME, "left")).select_by_visible_text("cup-0.png")
    Select(browser.find_element(By.NAME, "right")).select_by_visible_text("jig-b.png")
    press(browser, "form.asked .main")
    until(browser, "#scale", "A millimetre is as long on both sides.")
    until(browser, "#right canvas")
    looked_at(browser, address)

    if width < WIDTHS[-1]:
        return

    def alike(_: webdriver.Chrome) -> bool:
        (left, *_), (right, *_) = browser.execute_script(SCALES)
        return bool(left == pytest.approx(right, rel=0.01))  # both photographs have 0.05 mm per px

    WebDriverWait(browser, LONG_S, 0.02).until(alike)
    before = browser.execute_script(SCALES)
    press(browser, "#left .leaflet-control-zoom-in")
    WebDriverWait(browser, LONG_S, 0.02).until(
        lambda _: browser.execute_script(SCALES)[1][0] == pytest.approx(2 * before[1][0], rel=0.01) and alike(browser)
    )
    zoomed = browser.execute_script(SCALES)
    browser.find_element(By.ID, "right").send_keys("\ue014")  # arrow to the right
    WebDriverWait(browser, LONG_S, 0.02).until(lambda _: browser.execute_script(SCALES)[0][1] > zoomed[0][1] + 10)
    moved = browser.execute_script(SCALES)
    left, right = ((now[1] - was[1], now[2] - was[2]) for now, was in zip(moved, zoomed, strict=True))
    assert left == pytest.approx(right, abs=2.0)


def test_a_trial_is_assigned_compared_and_asked_anew(browser: webdriver.Chrome, address: str) -> None:
    wide(browser, 390)
    browser.get(f"{address}/trial")
    until(browser, "#answer p", "Write the pressure")
    for name, pressure in (("cup-0.png", "0psi"), ("cup-60.png", "60psi")):
        write(browser, f"[data-row]:has([value='{name}']) [name=pressure]", pressure)
    write(browser, "[name=rated_pressure]", "50psi")
    press(browser, "#asked .main")
    until(browser, "#answer p", "STOP")
    looked_at(browser, address)
    wide(browser, 1440)
    coloured(browser, "dark")
    browser.refresh()
    until(browser, "#answer h2", "Comparison with Boyle")
    looked_at(browser, address)
    assert browser.find_element(By.NAME, "pressure").get_attribute("value") == "0psi"
    write(browser, "[name=altitude]", "up high")
    press(browser, "#asked .main")
    until(browser, "#fault .alarm", "altitude up high")


def test_a_page_that_is_behind_loads_the_newer_or_writes_over_it(browser: webdriver.Chrome, address: str) -> None:
    wide(browser, 390)

    def altitude(text: str) -> None:
        write(browser, "[name=altitude]", text)
        press(browser, "#asked .main")

    def shown() -> str:
        return str(browser.find_element(By.NAME, "altitude").get_attribute("value"))

    browser.get(f"{address}/trial")
    first = browser.current_window_handle
    browser.switch_to.new_window("tab")
    browser.get(f"{address}/trial")
    for height in ("100m", "1500m"):  # twice from one page is no conflict
        altitude(height)
        until(browser, "#busy[hidden]")
    second = browser.current_window_handle
    browser.switch_to.window(first)
    altitude("90m")
    until(browser, "#fault .alarm", "altitude 1500m (here 90m)")
    check_access(browser)
    press(browser, "#fault button:nth-of-type(2)")
    until(browser, "#busy[hidden]")
    until(browser, "#fault:empty")
    browser.switch_to.window(second)
    altitude("200m")
    until(browser, "#fault .alarm", "altitude 90m (here 200m)")
    browser.get_log("browser")  # type: ignore[no-untyped-call] - the browser says of each 409 that it came
    press(browser, "#fault button:nth-of-type(1)")
    WebDriverWait(browser, LONG_S, 0.02).until(lambda _: shown() == "90m")
    browser.close()
    browser.switch_to.window(first)


def test_cancel_stops_the_server_as_well_and_what_is_asked_stays(browser: webdriver.Chrome, address: str) -> None:
    # The question is held back until Cancel was pressed, so that it is surely under way then.
    browser.get(f"{address}/trial")
    until(browser, "#busy[hidden]")
    browser.execute_script(
        "const real = fetch; window.asked = []; window.fetch = (url, words) => { window.asked.push(url);"
        " return url.includes('/answer') ? new Promise((go) => { window.go = () => go(real(url, words)); })"
        " : real(url, words); }"
    )
    press(browser, "#asked .main")
    until(browser, "#busy:not([hidden])")
    WebDriverWait(browser, LONG_S, 0.02).until(lambda d: d.execute_script("return Boolean(window.go)"))
    press(browser, "#stop")
    until(browser, "#fault .alarm", "Cancelled: what is asked is kept")
    asked = browser.execute_script("return window.asked")
    (question,) = (url for url in asked if "/answer" in url)
    name = question.split("turn=")[1]
    assert f"/turn/{name}/cancel" in asked
    browser.execute_script("window.go()")
    assert browser.find_element(By.ID, "answer").text == ""


def test_limits_are_begun_with_a_preset_set_and_held_against_every_piece(
    browser: webdriver.Chrome, address: str, tmp_path: Path
) -> None:
    wide(browser, 390)
    browser.get(f"{address}/inspection")
    press(browser, "[data-preset]")
    assert "[zones.face]" in str(browser.find_element(By.NAME, "limits").get_attribute("value"))
    file = tmp_path / "mine.toml"
    file.write_text('name = "mine"\n[zones.piece]\nshape = "all"\nlargest = "0.5mm"\nunjudged = "60%"\n', "utf-8")
    browser.find_element(By.ID, "file").send_keys(str(file))
    WebDriverWait(browser, LONG_S, 0.02).until(
        lambda d: 'name = "mine"' in d.find_element(By.NAME, "limits").get_attribute("value")
    )
    press(browser, "#asked .main")
    until(browser, "#answer .alarm", "fail")
    until(browser, "#answer p", "piece: void of 0.8")
    looked_at(browser, address)
    wide(browser, 1440)
    coloured(browser, "dark")
    browser.refresh()
    until(browser, "#answer .alarm", "fail")
    looked_at(browser, address)
    write(browser, "[name=limits]", "no limits")
    press(browser, "#asked .main")
    until(browser, "#fault .alarm", "is not TOML")


def test_a_hold_test_is_judged_from_readings_and_from_photographs(browser: webdriver.Chrome, address: str) -> None:
    wide(browser, 390)
    browser.get(f"{address}/hold")
    until(browser, "#answer > *")
    rows = "fieldset.cup:nth-of-type"
    for at, (time, gauge) in enumerate((("0min", "60psi"), ("12h", "60psi")), 1):
        write(browser, f"{rows}({at}) [name=time]", time)
        write(browser, f"{rows}({at}) [name=gauge]", gauge)
        write(browser, f"{rows}({at}) [name=temperature]", "24C")
    write(browser, "[name=allowed]", "3psi")
    write(browser, "[name=settled]", "20min")
    press(browser, "#asked .main")
    until(browser, "#answer .lead", "The pot holds.")
    until(browser, "#answer li", "Never open a lid")
    looked_at(browser, address)
    assert not browser.find_element(By.ID, "changed").is_displayed()
    wide(browser, 1440)
    coloured(browser, "dark")
    write(browser, "[name=range]", "0-100 psi")
    assert browser.find_element(By.ID, "changed").is_displayed()
    browser.find_element(By.CSS_SELECTOR, f"{rows}(2) [name=gauge]").clear()
    for at, name in ((1, "dial-1.png"), (2, "dial-2.png")):
        Select(browser.find_element(By.CSS_SELECTOR, f"{rows}({at}) [name=photo]")).select_by_visible_text(name)
    press(browser, "#asked .main")
    until(browser, "#answer .lead", "The pot leaks.")
    assert not browser.find_element(By.ID, "changed").is_displayed()
    looked_at(browser, address)


def test_what_was_typed_before_the_bench_was_started_again_is_sent_to_it(
    browser: webdriver.Chrome, running: Callable[..., Any], tmp_path: Path
) -> None:
    (tmp_path / "one").mkdir()
    (tmp_path / "other").mkdir()
    with running(tmp_path / "one") as url:
        browser.get(f"{url}/hold")
        until(browser, "#answer", "Close the pot")  # all scripts are there
    port = int(url.rsplit(":", 1)[1])
    write(browser, "[name=allowed]", "3psi")
    with running(tmp_path / "other", port=port):
        press(browser, "#asked .main")
        until(browser, "#fault .alarm", "earlier run of the bench")
        assert not (tmp_path / "other" / "bench").exists()
    with running(tmp_path / "one", port=port):
        press(browser, "#asked .main")
        until(browser, "#fault .alarm", "gauge")  # what is kept lacks readings
        assert '"allowed": "3psi"' in (tmp_path / "one" / "bench" / "hold.json").read_text("utf-8")
        browser.get("about:blank")


def test_a_form_whose_script_did_not_come_keeps_what_was_typed(browser: webdriver.Chrome, address: str) -> None:
    browser.execute_cdp_cmd("Network.enable", {})
    browser.execute_cdp_cmd("Network.setBlockedURLs", {"urls": ["*/ask.js"]})
    try:
        browser.get(f"{address}/hold")
        write(browser, "[name=allowed]", "3psi")
        press(browser, "#asked .main")
        assert browser.current_url == f"{address}/hold"
        assert browser.find_element(By.NAME, "allowed").get_attribute("value") == "3psi"
    finally:
        browser.execute_cdp_cmd("Network.setBlockedURLs", {"urls": []})
        browser.execute_cdp_cmd("Network.disable", {})


@pytest.mark.parametrize("width", [390, 1440])
def test_zones_are_drawn_and_inspected_and_a_pot_is_tested_by_keys_alone(
    browser: webdriver.Chrome, running: Callable[..., Any], whole_shop: Shop, tmp_path: Path, width: int
) -> None:
    with running(shutil.copytree(whole_shop.folder, tmp_path / "shop")) as url:
        wide(browser, width)
        browser.get(f"{url}/casting/jig-b.png")
        tabbed(browser, "[data-tool=zone]")
        keys(browser, Keys.SPACE)
        tabbed(browser, "#zone [name=name]")
        keys(browser, "fore")
        tabbed(browser, "#zone [name=corners]")
        keys(browser, "30,30 460,30 460,250 30,250", Keys.ENTER)
        until(browser, "#told th", "fore")
        browser.get(f"{url}/inspection")
        tabbed(browser, "#zoned")
        tabbed(browser, "#take")
        keys(browser, Keys.ENTER)
        WebDriverWait(browser, LONG_S, 0.02).until(
            lambda d: "[zones." in d.find_element(By.NAME, "limits").get_attribute("value")
        )
        tabbed(browser, "[name=limits]")
        ActionChains(browser).key_down(Keys.CONTROL).send_keys(Keys.HOME).key_up(Keys.CONTROL).perform()
        keys(browser, 'head = "left"', Keys.ENTER, 'belly = "down"', Keys.ENTER)
        tabbed(browser, "#asked .main")
        keys(browser, Keys.ENTER)
        until(browser, "#answer p", "fore: void of")
        looked_at(browser, url)
        browser.get(f"{url}/hold")
        until(browser, "#answer > *")
        for time, gauge in (("0min", "60psi"), ("12h", "60psi")):
            for name, text in (("time", time), ("gauge", gauge), ("temperature", "24C")):
                tabbed(browser, f"fieldset.cup [name={name}]")
                keys(browser, text)
        tabbed(browser, "[name=release]")
        keys(browser, "12h", Keys.ENTER)
        until(browser, "#answer .lead", "The pot holds.")
        looked_at(browser, url)


@SCREENS
def test_the_log_is_listed_charted_and_noted_in(
    browser: webdriver.Chrome, address: str, width: int, scheme: str
) -> None:
    wide(browser, width)
    coloured(browser, scheme)
    browser.get(f"{address}/log")
    until(browser, ".note", "4 of 4 castings")
    looked_at(browser, address)
    press(browser, "a[href='/log/1']")
    write(browser, "[name=text]", f"seen at {width}")
    press(browser, "#note .main")
    until(browser, "#answer td", f"seen at {width}")
    looked_at(browser, address)
    browser.get(f"{address}/log?last=3")
    press(browser, "[formaction='/log/chart']")
    until(browser, ".lead", "3 castings: voids per cm2")
    looked_at(browser, address)


@pytest.mark.parametrize("width", [390, 720])
def test_a_long_name_makes_no_page_wider_than_the_window(
    browser: webdriver.Chrome, running: Callable[..., Any], whole_shop: Shop, tmp_path: Path, width: int
) -> None:
    shutil.copy(whole_shop.folder / "cup-0.png", tmp_path / f"{'a cup of the large mould, ' * 4}Größe 3.png")
    wide(browser, width)
    with running(tmp_path) as url:
        for page in ("/", "/trial", "/inspection", "/hold", "/beside"):
            browser.get(url + page)
            browser.execute_script("document.querySelectorAll('details').forEach((more) => { more.open = true; })")
            looked_at(browser, url)
