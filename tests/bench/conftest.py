"""A bench on a folder with one graded photograph, asked through its own application, and a browser on a running one."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import pytest
import uvicorn
from selenium import webdriver
from starlette.applications import Starlette
from starlette.testclient import TestClient

from bubblegrade.bench.app import bench_app
from bubblegrade.bench.guard import TOKEN_HEADER, Access, allowed_hosts
from bubblegrade.bench.serving import HERE, listening_on
from bubblegrade.bench.work import Job, graded_into
from bubblegrade.drawn.dials import DialFace, Shot
from bubblegrade.drawn.dials import photograph as dial
from bubblegrade.drawn.lures import Lure, draw_lure
from bubblegrade.grading_run import Request
from bubblegrade.records.log import open_log
from bubblegrade.runs.log_folder import results_of
from bubblegrade.runs.one import Task
from bubblegrade.settings import Settings

PORT = 8750
BASE = f"http://127.0.0.1:{PORT}"
NAME = 'cup "a" <b> Zoë\'s.png'
TASK = Task(version="0.1", request=Request(), settings=Settings(), jobs=1)
SHOP_GRADED = ("cup-0.png", "cup-60.png", "jig-a.png", "jig-b.png")


def client_of(app: Starlette, **changes: str) -> TestClient:
    """Return a client that sends what the bench's own page would."""
    token = app.state.bench.access.token
    client = TestClient(app, base_url=BASE, follow_redirects=False, raise_server_exceptions=True)
    client.headers.update({"origin": BASE, TOKEN_HEADER: token, **changes})
    return client


@pytest.fixture(scope="session")
def graded_folder(tmp_path_factory: pytest.TempPathFactory, photograph: Callable[..., Path]) -> Path:
    """Return a folder with one graded photograph, not to be changed."""
    folder = tmp_path_factory.mktemp("graded")
    path = photograph(folder / NAME)
    assert graded_into(Job(path, folder / "bench" / NAME, TASK)) == ""
    return folder


@pytest.fixture
def folder(tmp_path: Path, graded_folder: Path) -> Path:
    """Return a copy of it."""
    return shutil.copytree(graded_folder, tmp_path / "folder")


@pytest.fixture
def app(folder: Path) -> Starlette:
    """Return a bench on that copy."""
    return bench_app(folder, Access(allowed_hosts(PORT), "Ann"), version="0.1")


@pytest.fixture
def client(app: Starlette) -> TestClient:
    """Return a client of it."""
    return client_of(app)


@dataclass(frozen=True)
class Shop:
    """A folder with two cups at 0 and 60 psi, a sound and a faulty lure, two dials, a new photograph; and a log."""

    folder: Path
    log: Path


@pytest.fixture(scope="session")
def whole_shop(tmp_path_factory: pytest.TempPathFactory, drawn_trial: Callable[..., list[str]]) -> Shop:
    """Return a workshop's folder and log, not to be changed."""
    folder = tmp_path_factory.mktemp("shop")
    drawn_trial(folder / "cups", settings=(0, 60), cups=1, voids=60)
    for psig in (0, 60):
        (folder / "cups" / f"{psig}psi" / "0.png").rename(folder / f"cup-{psig}.png")
    for name, voids in (("jig-a.png", ()), ("jig-b.png", ((0.25, 0.6, 18.0),))):
        cv2.imwrite(str(folder / name), draw_lure(Lure(voids=voids)).picture)
    for name, deg in (("dial-1.png", 162.0), ("dial-2.png", 135.0)):
        cv2.imwrite(str(folder / name), dial(DialFace(), Shot(needle_deg=deg, radius_px=160.0), 1))
    task = replace(TASK, request=Request(mm_per_px=0.05))
    for name in SHOP_GRADED:
        assert graded_into(Job(folder / name, folder / "bench" / name, task)) == ""
    return Shop(folder, logged(folder))


def logged(folder: Path) -> Path:
    """Enter a casting for each graded photograph, with its result, and return the log."""
    place = folder / "castings.sqlite"
    with open_log(place, create=True, by="Ann") as log:
        for day, name in enumerate(SHOP_GRADED, 1):
            number = log.add({"date": f"2026-03-0{day}", "recipe": "<b>A</b>", "gauge_gel": "40psi"})
            log.tie(number, results_of(folder / "bench" / name))
        log.note(2, "valve hissed", cause=True)
    return place


def linked(source: str, target: str) -> None:
    """Copy the log, which is written into; all else is replaced whole, so that another name for it is enough."""
    if source.endswith(".sqlite"):
        shutil.copyfile(source, target)
    else:
        os.link(source, target)


@pytest.fixture
def shop(tmp_path: Path, whole_shop: Shop) -> Shop:
    """Return a copy of them."""
    folder = shutil.copytree(whole_shop.folder, tmp_path / "shop", copy_function=linked)
    return Shop(folder, folder / whole_shop.log.name)


@pytest.fixture
def keeper(shop: Shop) -> TestClient:
    """Return a client of a bench on that copy."""
    return client_of(bench_app(shop.folder, Access(allowed_hosts(PORT), "Ann"), version="0.1", log=shop.log))


@pytest.fixture(scope="session")
def running() -> Callable[..., object]:
    """Return what serves a folder on a free port while it is entered, and gives the address."""

    @contextmanager
    def serve(folder: Path, log: Path | None = None, port: int = 0) -> Iterator[str]:
        with listening_on(HERE, port) as listening:
            port = int(listening.getsockname()[1])
            app = bench_app(folder, Access(allowed_hosts(port), "Ann"), version="0.1", log=log)
            server = uvicorn.Server(uvicorn.Config(app, log_level="warning", ws="none"))
            thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
            thread.start()
            try:
                yield f"http://{HERE}:{port}"
            finally:
                server.should_exit = True
                thread.join()

    return serve


@pytest.fixture(scope="session")
def browser(chromium: Callable[[], AbstractContextManager[webdriver.Chrome]]) -> Iterator[webdriver.Chrome]:
    """Return a real browser without a screen."""
    with chromium() as driver:
        yield driver
