"""What tests of several rooms share: a casting of known numbers and photographs of drawn cups."""

from __future__ import annotations

import functools
import math
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from hypothesis import settings
from numpy.typing import NDArray
from scipy.special import ndtri

from bubblegrade.casting.curved import FLAT
from bubblegrade.drawn.pictures import Scene, draw
from bubblegrade.drawn.populations import cup, population
from bubblegrade.fitness.check import Check, Fitness, Limit, Verdict
from bubblegrade.grading.clarity import Clarity
from bubblegrade.grading.distribution import size_histogram
from bubblegrade.grading.sizes import summarise
from bubblegrade.grading_run import Casting, NotJudged
from bubblegrade.photo.noted import Noted
from bubblegrade.photo.scale import Scale
from bubblegrade.pressure.atmosphere import SEA_LEVEL, SEA_LEVEL_KPA
from bubblegrade.pressure.poured import Poured, Stated
from bubblegrade.pressure.situation import Limits
from bubblegrade.pressure.trial import Question, Trial, hold_trial
from bubblegrade.units import PSI_KPA, GaugePressure
from bubblegrade.voids.lighting import Lighting
from bubblegrade.voids.table import Voids

settings.register_profile("unhurried", settings(), deadline=None)  # no test depends on the clock
settings.load_profile("unhurried")

SQUARE = np.array([[20.0, 20.0], [280.0, 20.0], [280.0, 180.0], [20.0, 180.0]])


def psi(psig: float) -> GaugePressure:
    """Return a dial's reading."""
    return GaugePressure(psig * PSI_KPA)


def known_check(fault: str = "", *, verdict: Verdict | None = None, **changes: Any) -> Check:
    """Return a check that found this fault, or that the casting lies well inside the frame."""
    facts: dict[str, Any] = {
        "name": "cut",
        "title": "frame that cuts the casting",
        "value": 40.0 if fault else 0.0,
        "unit": "px",
        "limit": Limit(0.0, 0.0),
        "verdict": verdict or (Verdict.UNFIT if fault else Verdict.FIT),
        "fault": fault,
        "effect": "voids are missing",
        "cure": "",
    }
    return Check(**{**facts, **changes})


def known_casting(*, unfit: tuple[str, ...] = (), **changes: Any) -> Casting:
    """Return a casting of 300 x 200 px at 0.05 mm per px: voids of 8, 16 and 30 px, 0.4, 0.8 and 1.5 mm."""
    voids = Voids.of(
        x_px=[60.0, 150.0, 230.0],
        y_px=[60.0, 100.0, 130.0],
        diameter_px=[8.0, 16.0, 30.0],
        diameter_err_px=[0.1, 0.2, 0.3],
    )
    set_aside = Voids.of(
        x_px=[100.0, 200.0],
        y_px=[150.0, 50.0],
        diameter_px=[9.0, 12.0],
        kind=["unsure", "flake"],
        reason=["faint", "opaque"],
    )
    facts: dict[str, Any] = {
        "photo": "cup.jpg",
        "sha256": "0" * 64,
        "shape_px": (200, 300),
        "scale": Scale(mm_per_px=0.05, mm_per_px_err=0.0005, source="stated"),
        "span_px": None,
        "outline_px": SQUARE,
        "judged_px": (SQUARE,),
        "judged_area_px": 40_000.0,
        "hidden_share": 0.02,
        "magnified": FLAT,
        "turned_degrees": math.nan,
        "not_judged": (NotJudged("border", 10_000.0),),
        "index_err_share": 0.0,
        "passes": 0.9,
        "noise": 0.01,
        "lighting": Lighting(theta=0.7, theta_err=0.02, wall=0.5, blur_px=0.9, rings=5),
        "voids": voids,
        "set_aside": set_aside,
        "sizes_px": summarise(voids.diameter_px, voids.diameter_err_px, smallest=5.0, seed=1, doubtful=[9.0]),
        "histogram_px": size_histogram(voids.diameter_px),
        "clarity": Clarity(score=45.2, low=30.6, high=58.1, cover=0.011, veil=0.001, cover_err=0.0004, veil_err=0.0002),
        "thickness_mm": 10.0,
        "noted": Noted(),
        "fitness": Fitness(tuple(known_check(fault) for fault in unfit or ("",))),
        "warnings": ("few voids", "mind the light"),
    }
    return Casting(**{**facts, **changes})


def empty_casting(**changes: Any) -> Casting:
    """Return a casting in which nothing was found and which has no scale."""
    nothing = Voids.none()
    facts: dict[str, Any] = {
        "scale": None,
        "thickness_mm": None,
        "voids": nothing,
        "set_aside": nothing,
        "not_judged": (),
        "sizes_px": summarise([], [], smallest=5.0, seed=1),
        "histogram_px": size_histogram([]),
        "clarity": Clarity(score=100.0, low=98.0, high=100.0, cover=0.0, veil=0.0, cover_err=0.0, veil_err=0.0),
        "warnings": (),
    }
    return known_casting(**{**facts, **changes})


@functools.cache
def drawn_cup(*, level: float = 0.6, casting_px: float = 150.0, size_px: int = 400) -> NDArray[np.uint8]:
    """Return a drawn cup with five voids, (rows, cols, 3)."""
    middle = (size_px - 1) / 2
    return draw(
        Scene(
            width_px=size_px,
            height_px=size_px,
            casting_px=casting_px,
            x_px=middle + np.array([-70.0, -20.0, 30.0, 75.0, 10.0]),
            y_px=middle + np.array([-40.0, 50.0, -60.0, 30.0, 5.0]),
            diameter_px=[14.0, 18.0, 22.0, 26.0, 30.0],
            level=level,
        )
    ).picture


def poured(psig: float, *, name: str = "a", pressure_share: float = 1.0, **changes: Any) -> Poured:
    """Return a cup whose 100 voids stand at the quantiles of their population, 0.4 mm and spread 0.4 at open air."""
    ratio = 1.0 + pressure_share * psig * PSI_KPA / SEA_LEVEL_KPA
    offset = {"a": -0.02, "b": 0.0, "c": 0.02}.get(name, 0.0)
    logs = math.log(0.4) + offset + 0.4 * ndtri((np.arange(1, 101) - 0.5) / 100) - math.log(ratio) / 3.0
    said = {key: changes.pop(key) for key in [*changes] if key in Stated.__dataclass_fields__}
    facts: dict[str, Any] = {
        "photo": f"{psig:g}psi-{name}.jpg",
        "sha256": "0" * 64,
        "stated": Stated(
            **{"setting": f"{psig:g} psi", "gauge": GaugePressure(psig * PSI_KPA), "air": SEA_LEVEL, **said}
        ),
        "diameters": np.exp(logs),
        "smallest": 0.1,
        "mm_per_px": 0.02,
        "volume_cm3": 10.0,
        "unfit": (),
        "pattern": None,
    }
    return Poured(**{**facts, **changes})


def known_trial(*, pressure_share: float = 1.0, cups: tuple[Poured, ...] = (), **asked: Any) -> Trial:
    """Return a trial at 0, 20 and 60 psi with three cups each, or of the `cups` given."""
    usual = [poured(psig, name=name, pressure_share=pressure_share) for psig in (0.0, 20.0, 60.0) for name in "abc"]
    facts: dict[str, Any] = {"air": SEA_LEVEL, "limits": Limits(), **asked}
    return hold_trial(cups or usual, Question(**facts))


@functools.cache
def _drawn_void_cup(psig: int, number: int, pressure_share: float, voids: int) -> bytes:
    """Return a photograph of a drawn cup, as PNG: at open air voids of 0.7 mm, a geometric deviation of 1.35."""
    rng = np.random.default_rng([psig, number])
    ratio = 1.0 + pressure_share * psig * PSI_KPA / SEA_LEVEL_KPA
    sizes = population(voids, 0.7, 1.35, pressure_ratio=ratio, rng=rng)
    scene = cup(sizes, mm_per_px=0.05, rng=rng, width_px=640, height_px=640, casting_px=290.0, seed=number)
    return bytes(cv2.imencode(".png", draw(scene).picture)[1].tobytes())


def drawn_trial(
    folder: Path,
    *,
    settings: tuple[int, ...] = (0, 20, 60),
    cups: int = 3,
    pressure_share: float = 1.0,
    voids: int = 90,
) -> list[str]:
    """Write photographs of drawn cups, 0.05 mm per px, below `folder`; return PRESSURE=PLACE for each setting."""
    for psig in settings:
        (folder / f"{psig}psi").mkdir(parents=True)
        for number in range(cups):
            picture = _drawn_void_cup(psig, number, pressure_share, voids)
            (folder / f"{psig}psi" / f"{number}.png").write_bytes(picture)
    return [f"{psig}psi={folder / f'{psig}psi'}" for psig in settings]


@pytest.fixture(name="poured")
def _poured() -> Callable[..., Poured]:
    return poured


@pytest.fixture(name="known_trial")
def _known_trial() -> Callable[..., Trial]:
    return known_trial


@pytest.fixture(name="drawn_trial", scope="session")
def _drawn_trial() -> Callable[..., list[str]]:
    return drawn_trial


@pytest.fixture(name="known_casting")
def _known_casting() -> Callable[..., Casting]:
    return known_casting


@pytest.fixture(name="empty_casting")
def _empty_casting() -> Callable[..., Casting]:
    return empty_casting


@pytest.fixture(name="photograph", scope="session")
def _photograph() -> Callable[..., Path]:
    """Return a function that writes a photograph of a drawn cup to a path."""

    def write(path: Path, **drawn: Any) -> Path:
        path.parent.mkdir(parents=True, exist_ok=True)
        done, data = cv2.imencode(path.suffix.lower(), drawn_cup(**drawn))
        assert done
        path.write_bytes(data.tobytes())
        return path

    return write


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Callable[[], Any]:
    """Return what starts a real browser without a screen, for a `with`; without one its tests are passed over."""

    @contextmanager
    def started() -> Iterator[Any]:
        from selenium import webdriver  # noqa: PLC0415 - not among the lowest versions that are tested

        binary, driver = shutil.which("chromium"), shutil.which("chromedriver")
        if binary is None or driver is None:
            pytest.skip("needs chromium and chromedriver")
        options = webdriver.ChromeOptions()
        options.binary_location = binary
        for argument in (
            "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
            "--disable-component-update", "--disable-sync", f"--user-data-dir={tmp_path_factory.mktemp('chromium')}",
        ):  # fmt: skip
            options.add_argument(argument)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        browser = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver))
        try:
            yield browser
        finally:
            browser.quit()

    return started
