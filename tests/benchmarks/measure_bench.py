"""How quick the bench page is, in headless Chromium: the first picture, and the longest stall while moving.

python tests/benchmarks/measure_bench.py
"""

# ruff: noqa: T201
from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Final

import cv2
import numpy as np
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.support.wait import WebDriverWait

from bubblegrade.drawn.pictures import draw
from bubblegrade.drawn.populations import cup, population
from bubblegrade.results.casting_reading import read_casting

VOIDS: Final = 1500
DRAWN_PX: Final = 2450
MEGAPIXELS: Final = {12: 3464, 24: 4900}  # sides of square photographs
WAIT_S: Final = 120
SEEN: Final = """
window.seen = null;
document.getElementById('files').addEventListener('change', () => {
  const began = performance.now();
  const look = () => {
    const image = document.querySelector('.card img');
    if (image && image.complete && image.naturalWidth) window.seen = performance.now() - began;
    else requestAnimationFrame(look);
  };
  look();
}, true);
"""
WATCH: Final = """
window.gaps = []; window.tasks = [];
let last = performance.now();
const tick = (now) => { window.gaps.push(now - last); last = now; requestAnimationFrame(tick); };
requestAnimationFrame(tick);
new PerformanceObserver((list) => list.getEntries().forEach((e) => window.tasks.push(e.duration)))
  .observe({entryTypes: ['longtask']});
"""


def photographs(folder: Path) -> dict[int, Path]:
    """Save a drawn cup of 1,500 voids at each number of megapixels."""
    rng = np.random.default_rng(3)
    sizes = np.clip(population(VOIDS, 0.25, 1.4, rng=rng), 0.12, 0.8)
    held = {"width_px": DRAWN_PX, "height_px": DRAWN_PX, "casting_px": 1150.0, "theta": 0.6, "wall": 0.3, "level": 0.5}
    small = draw(cup(sizes, mm_per_px=0.02, rng=rng, **held)).picture
    paths = {}
    for megapixels, side in MEGAPIXELS.items():
        large = cv2.resize(small, (side, side), interpolation=cv2.INTER_CUBIC)
        noise = np.random.default_rng(1).normal(0, 1.5, (side, side, 1)).astype(np.float32)
        paths[megapixels] = folder / f"cup-{megapixels}.jpg"
        cv2.imwrite(str(paths[megapixels]), np.clip(large + noise, 0, 255).astype(np.uint8))
    return paths


def browser(profile: str) -> webdriver.Chrome:
    """Return Chromium without a screen, 1,440 x 900 px."""
    options = webdriver.ChromeOptions()
    options.binary_location = str(shutil.which("chromium"))
    for argument in ("--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={profile}"):
        options.add_argument(argument)
    driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(str(shutil.which("chromedriver"))))
    driver.set_window_size(1440, 900)
    return driver


def first_picture_ms(driver: webdriver.Chrome, url: str, photograph: Path) -> float:
    """Return the time from choosing a file to its picture on the screen."""
    driver.get(url)
    driver.execute_script(SEEN)
    driver.find_element(By.ID, "files").send_keys(str(photograph))
    return float(WebDriverWait(driver, WAIT_S, 0.05).until(lambda d: d.execute_script("return window.seen")))


def pointer(driver: webdriver.Chrome, kind: str, x: float, y: float, **more: object) -> None:
    """Send the pointer to a place."""
    driver.execute_cdp_cmd("Input.dispatchMouseEvent", {"type": kind, "x": x, "y": y, **more})


def stalls_ms(driver: webdriver.Chrome, url: str) -> dict[str, float]:
    """Return gaps between frames and the longest task while the photograph is dragged and zoomed."""
    driver.get(url)
    WebDriverWait(driver, WAIT_S).until(lambda d: "all" not in d.find_element(By.ID, "says").text or True)
    time.sleep(3)
    box = driver.find_element(By.ID, "view").rect
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    driver.execute_script(WATCH)
    for turn in range(10):
        pointer(driver, "mouseWheel", x, y, deltaX=0, deltaY=-240 if turn < 5 else 240)
        time.sleep(0.3)
        held = {"button": "left", "buttons": 1, "clickCount": 1}
        pointer(driver, "mousePressed", x, y, **held)
        for step in range(24):
            pointer(driver, "mouseMoved", x + 12 * step * (-1) ** turn, y + 6 * step, button="left", buttons=1)
        pointer(driver, "mouseReleased", x + 276 * (-1) ** turn, y + 138, **held)
        time.sleep(0.3)
    gaps, tasks = (driver.execute_script(f"return window.{name}") for name in ("gaps", "tasks"))
    return {
        "frames": float(len(gaps)),
        "median gap, ms": float(np.median(gaps)),
        "99th percentile, ms": float(np.percentile(gaps, 99)),
        "longest gap, ms": max(gaps),
        "longest task, ms": max(tasks, default=0.0),
    }


def wait_until_graded(folder: Path, name: str) -> int:
    """Return how many voids were found, once they are."""
    record = folder / "bench" / name / "run.json"
    while not record.is_file():
        time.sleep(0.5)
    return read_casting(json.loads(record.read_text("utf-8")), place=name)[0].count


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as place:
        made, folder = Path(place, "made"), Path(place, "folder")
        made.mkdir()
        folder.mkdir()
        paths = photographs(made)
        command = [sys.executable, "-c", "from bubblegrade.commands import main; main()", "bench", str(folder)]
        with subprocess.Popen([*command, "--no-browser"], stdout=subprocess.PIPE, text=True) as server:
            assert server.stdout is not None
            url = server.stdout.readline().split()[4]
            driver = browser(f"{place}/profile")
            try:
                for megapixels, path in paths.items():
                    shutil.rmtree(folder)
                    folder.mkdir()
                    print(f"first picture, {megapixels} MP: {first_picture_ms(driver, url, path):.0f} ms")
                    print(f"  voids: {wait_until_graded(folder, path.name)}")
                for name, value in stalls_ms(driver, f"{url}casting/{paths[24].name}").items():
                    print(f"{name}: {value:.0f}")
            finally:
                driver.quit()
                server.terminate()


if __name__ == "__main__":
    main()
