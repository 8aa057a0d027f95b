"""Make the pictures of the bench in the README: a server on a copy of the samples, looked at in Chromium.

python .pictures/make_bench.py
"""

# ruff: noqa: T201
from __future__ import annotations

import base64
import io
import json
import re
import shutil
import subprocess
import sys
import tempfile
import urllib.request
from pathlib import Path
from typing import Any, Final

from PIL import Image
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.support.wait import WebDriverWait

from bubblegrade.runs.limit_presets import PRESETS

HERE: Final = Path(__file__).parent
SAMPLES: Final = HERE.parent / "sample_images"
CUPS: Final = {
    "cup-open-a.jpg": "0psi",
    "cup-open-b.jpg": "0psi",
    "cup-30psi-a.jpg": "30psi",
    "cup-60psi-a.jpg": "60psi",
}
LURE: Final = "lure-plain-a.jpg"
WIDE, HIGH = 1280, 860
MOST_BYTES: Final = 150_000  # of a picture
WAIT_S: Final = 120
READY: Final = "return !document.querySelector('[aria-busy]') && document.querySelector(arguments[0]) !== null"


def main() -> None:
    """Make all of them."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "workshop"
        folder.mkdir()
        for name in (*CUPS, LURE):
            shutil.copy(SAMPLES / name, folder / name)
        command = [sys.executable, "-c", "from bubblegrade.commands import main; main()", "bench", str(folder)]
        with subprocess.Popen(  # noqa: S603 - our own command
            [*command, "--no-browser", "--who", "Ann"], stdout=subprocess.PIPE, text=True
        ) as bench:
            assert bench.stdout is not None  # noqa: S101 - piped
            url = bench.stdout.readline().split()[4].rstrip("/")
            driver = browser()
            try:
                look(driver, url)
            finally:
                driver.quit()
                bench.terminate()


def look(driver: webdriver.Chrome, url: str) -> None:
    """Do the whole job, and keep a picture of each page."""
    sent(url, "/tray/grade", {"names": list(CUPS), "scale": "width", "length": "36mm"})
    sent(url, "/tray/grade", {"names": [LURE], "scale": "width", "length": "68mm"})
    driver.get(url)
    WebDriverWait(driver, WAIT_S).until(
        lambda d: len(d.find_elements(By.CSS_SELECTOR, ".card.graded")) == len(CUPS) + 1
    )
    shot(driver, "bench-tray", ".card img")
    driver.get(f"{url}/casting/cup-open-a.jpg")
    WebDriverWait(driver, WAIT_S).until(lambda d: d.find_elements(By.CSS_SELECTOR, "#view canvas"))
    driver.find_element(By.ID, "next").click()
    driver.find_element(By.CSS_SELECTOR, "#look [value=remove]").click()
    WebDriverWait(driver, WAIT_S).until(lambda d: d.find_elements(By.CSS_SELECTOR, "#told .changed"))
    shot(driver, "bench-casting", "#told .changed")
    sent(url, "/casting/cup-open-a.jpg/change", {"what": "undo", "of": 1, "seen": 1})
    driver.get(f"{url}/beside?left=cup-open-a.jpg&right=cup-60psi-a.jpg")
    WebDriverWait(driver, WAIT_S).until(lambda d: len(d.find_elements(By.CSS_SELECTOR, "canvas")) > 3)  # noqa: PLR2004
    shot(driver, "bench-beside", "#right canvas")
    rows = [{"photo": name, "pressure": pressure, "mix": ""} for name, pressure in CUPS.items()]
    sent(url, "/trial/answer", {"words": {"rated_pressure": "70psi"}, "rows": rows})
    driver.get(f"{url}/trial")
    shot(driver, "bench-trial", "#answer h2")
    sent(url, "/inspection/answer", {"words": {"limits": PRESETS["clear-lure"]}})
    driver.get(f"{url}/inspection")
    WebDriverWait(driver, WAIT_S).until(lambda d: d.execute_script(READY, "#answer h2"))
    driver.execute_script(
        "const head = [...document.querySelectorAll('#answer h2')].find(e => e.textContent === arguments[0]);"
        "[...document.querySelectorAll('.shot img')].find(e => head.compareDocumentPosition(e) & 4)"
        ".scrollIntoView({block: 'end'})",
        Path(LURE).stem,
    )
    shot(driver, "bench-inspection", ".shot img")


def shot(driver: webdriver.Chrome, name: str, wanted: str) -> None:
    """Keep what the window shows once `wanted` is there and every picture in sight has come."""
    WebDriverWait(driver, WAIT_S).until(lambda d: d.execute_script(READY, wanted))
    driver.execute_async_script(
        "const done = arguments[arguments.length - 1];"
        "Promise.all([...document.images].filter(i => i.loading !== 'lazy').map(i => i.decode().catch(() => 0)))"
        ".then(() => setTimeout(done, 500));"  # of the tiles' fading in
    )
    taken = driver.execute_cdp_cmd("Page.captureScreenshot", {"format": "png"})
    with Image.open(io.BytesIO(base64.b64decode(taken["data"]))) as picture:
        for quality in range(86, 30, -8):
            held = io.BytesIO()
            picture.convert("RGB").save(held, "WEBP", quality=quality, method=6)
            if held.tell() <= MOST_BYTES:
                break
    (HERE / f"{name}.webp").write_bytes(held.getvalue())
    print(f"{name}.webp: {held.tell() / 1000:.0f} kB")


def sent(url: str, path: str, words: dict[str, Any]) -> None:
    """Send what the page would."""
    with urllib.request.urlopen(url) as answer:  # noqa: S310 - the server that this has started
        (token,) = re.findall(r'bench-token" content="([^"]+)"', answer.read().decode("utf-8"))
    headers = {"origin": url, "x-bench-token": token, "content-type": "application/json"}
    request = urllib.request.Request(url + path, json.dumps(words).encode("utf-8"), headers)  # noqa: S310
    with urllib.request.urlopen(request) as answer:  # noqa: S310
        answer.read()


def browser() -> webdriver.Chrome:
    """Return Chromium without a screen."""
    options = webdriver.ChromeOptions()
    options.binary_location = str(shutil.which("chromium"))
    for argument in ("--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"):
        options.add_argument(argument)
    driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(str(shutil.which("chromedriver"))))
    metrics = {"width": WIDE, "height": HIGH, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)
    return driver


if __name__ == "__main__":
    main()
