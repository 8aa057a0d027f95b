"""Photographs graded by a real scheduler and workers, each a process of its own on this machine."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from bubblegrade.errors import CutShortError, InputError
from bubblegrade.grading_run import Casting, Request
from bubblegrade.photo.light import Codes
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.run import NotGraded
from bubblegrade.runs.cluster import cluster_at
from bubblegrade.runs.far import check_alike, check_seen, libraries, sha256_of
from bubblegrade.runs.inputs import Source, find_sources
from bubblegrade.runs.many import Reports, grade_all
from bubblegrade.runs.one import Graded, Picture, Task
from bubblegrade.settings import Settings
from tests.command_line import bubblegrade, contents, refused

Photograph = Callable[..., Path]

TASK = Task("1", Request(mm_per_px=0.05), Settings())
SILENT = Reports(lambda _: None, lambda _: None)
STARTS_S = 60  # within which workers must have come
ENDS_S = 240  # after which a test that waits for what never comes is ended

pytestmark = pytest.mark.skipif(os.name != "posix", reason="kills processes as POSIX does")


class Live:
    """A scheduler and its workers, which stay dead when they are killed."""

    def __init__(self) -> None:
        # One death is enough for the library to give a photograph up, which is then graded once more, alone.
        env = {**os.environ, "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "0"}
        held = {"env": env, "stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "text": True}
        self._scheduler = self._started("scheduler", "--port", "0", "--no-show", stderr=subprocess.PIPE, **held)
        assert self._scheduler.stderr is not None
        said = (re.search(r"Scheduler at:\s+(tcp://\S+)", line) for line in self._scheduler.stderr)
        self.address = next(found for found in said if found)[1]
        self._workers: list[subprocess.Popen[str]] = []

    @staticmethod
    def _started(kind: str, *arguments: str, **held: Any) -> subprocess.Popen[str]:
        module = f"distributed.cli.dask_{kind}"
        own = ("--host", "127.0.0.1", "--no-dashboard")
        return subprocess.Popen([sys.executable, "-m", module, *arguments, *own], **held)

    def workers(self, number: int, *, threads: int = 1) -> list[int]:
        """Have exactly so many workers, and return their process ids."""
        from distributed import Client  # noqa: PLC0415

        living = [worker for worker in self._workers if worker.poll() is None]
        for _ in range(number - len(living)):
            quiet = dict.fromkeys(("stdin", "stdout", "stderr"), subprocess.DEVNULL)
            arguments = (self.address, "--nthreads", str(threads), "--no-nanny")
            living.append(self._started("worker", *arguments, text=True, **quiet))
        self._workers = [*{*self._workers, *living}]
        with Client(self.address, set_as_default=False) as client:
            client.wait_for_workers(number, timeout=STARTS_S)
        return [worker.pid for worker in living]

    def reap(self) -> None:
        """End the workers."""
        for worker in self._workers:
            worker.kill()
            worker.wait()
        self._workers = []

    def end(self) -> None:
        """End all of them."""
        self.end_scheduler()
        self.reap()

    def end_scheduler(self) -> None:
        """End the scheduler, without a word to its workers."""
        self._scheduler.kill()
        self._scheduler.wait()
        assert self._scheduler.stderr is not None
        self._scheduler.stderr.close()


@pytest.fixture(autouse=True)
def _bounded() -> Iterator[None]:
    """End a test that waits for what never comes."""

    def late(*_: object) -> None:
        raise AssertionError(f"not done within {ENDS_S} s")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(ENDS_S)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture(scope="module")
def live() -> Iterator[Live]:
    """Return a scheduler that workers can be added to."""
    live = Live()
    yield live
    live.end()


@pytest.fixture(scope="module")
def once(tmp_path_factory: pytest.TempPathFactory, photograph: Photograph) -> Path:
    """Return a folder with `cups`, four photographs and one that cannot be graded, and `R`, their result."""
    place = tmp_path_factory.mktemp("cluster")
    for number in range(4):
        photograph(place / "cups" / f"{number}.png", level=0.5 + number / 50)
    (place / "cups" / "3-bad.png").write_bytes(b"no picture")
    with ResultFolder.prepare(place / "R", replace=False) as folder:
        grade_all(find_sources([place / "cups"], out=None), TASK, folder, SILENT, parquet=True)
    return place


def graded(live: Live, cups: Path, out: Path, done: Callable[[Source], None] = lambda _: None) -> None:
    """Grade photographs on the cluster."""
    sources = find_sources([cups], out=None)
    with (
        ResultFolder.prepare(out, replace=False) as folder,
        cluster_at(live.address, sources.photographs) as cluster,
    ):
        grade_all(sources, TASK, folder, Reports(lambda _: None, done), parquet=True, cluster=cluster)


def test_a_worker_killed_in_the_middle_loses_nothing_and_the_bytes_are_those_of_this_machine(
    tmp_path: Path, live: Live, once: Path
) -> None:
    left = live.workers(2)

    def done(_: Source) -> None:
        if len(left) == 2:
            os.kill(left.pop(), signal.SIGKILL)

    graded(live, once / "cups", tmp_path / "far", done)
    assert len(left) == 1
    assert contents(tmp_path / "far") == contents(once / "R")


def test_a_scheduler_that_is_gone_in_the_middle_is_one_line_and_the_run_goes_on_from_there(
    tmp_path: Path, once: Path
) -> None:
    short = Live()
    short.workers(2)

    def done(_: Source) -> None:
        short.end_scheduler()

    try:
        with pytest.raises(CutShortError, match=f"^--cluster {short.address} is gone: .* go on with --resume"):
            graded(short, once / "cups", tmp_path / "R", done)
    finally:
        short.end()
    assert (tmp_path / "R" / "run.journal").is_file()
    with ResultFolder.prepare(tmp_path / "R", replace=False, resume=True) as folder:
        grade_all(find_sources([once / "cups"], out=None), TASK, folder, SILENT, parquet=True)
    assert contents(tmp_path / "R") == contents(once / "R")


def test_a_photograph_that_kills_every_worker_is_one_line_and_the_rest_is_graded(live: Live, once: Path) -> None:
    live.workers(3)

    def draw(_: Codes, casting: Casting) -> Picture:
        if casting.photo == "2.png":
            os.kill(os.getpid(), signal.SIGKILL)
        return Picture(b"drawn")

    sources = find_sources([once / "cups"], out=None).photographs
    with cluster_at(live.address, sources) as cluster:
        came = dict(cluster.graded(sources, TASK, draw))
    kinds = [type(came[place]) for place in range(5)]
    assert [source.name for source, kind in zip(sources, kinds, strict=True) if kind is NotGraded] == [
        "2.png",
        "3-bad.png",
    ]
    assert "was ended by the system" in str(came[2])


def test_what_a_worker_sees_otherwise_is_a_line_of_that_photograph(tmp_path: Path, live: Live, once: Path) -> None:
    live.workers(1)
    sources = find_sources([once / "cups"], out=None).photographs[:2]
    changed = tmp_path / "1.png"
    changed.write_bytes(sources[1].path.read_bytes())

    with cluster_at(live.address, sources) as cluster:
        pool = cluster.pool
        assert pool.packed is not None
        sent = [pool.packed(sources[0]), pool.packed(Source(changed, "1.png", "1-marked.jpg"))]
        changed.unlink()
        object.__setattr__(pool, "packed", lambda source: sent[sources.index(source)])
        came = dict(cluster.graded(sources, TASK))
    assert isinstance(came[0], Graded)
    assert isinstance(came[1], NotGraded)
    assert f"does not see {changed}: name photographs in a folder that every worker sees" in came[1].reason


def test_the_bare_light_is_read_by_the_worker(tmp_path: Path, live: Live, once: Path, photograph: Photograph) -> None:
    live.workers(1)
    blank = photograph(tmp_path / "blank.png", casting_px=0.0)
    names = ("--mm-per-px", "0.05", "--blank", blank, once / "cups" / "0.png")
    here = bubblegrade("grade", *names, "--out", tmp_path / "here")
    far = bubblegrade("grade", *names, "--out", tmp_path / "far", "--cluster", live.address)
    assert (here.exit_code, here.output) == (far.exit_code, far.output) == (0, here.output)
    assert contents(tmp_path / "here") == contents(tmp_path / "far")
    live.reap()


def test_a_worker_of_two_threads_is_refused_before_anything_is_written(tmp_path: Path, live: Live, once: Path) -> None:
    live.workers(1, threads=2)
    far = bubblegrade("grade", once / "cups", "--out", tmp_path / "far", "--cluster", live.address)
    refused(far, "has 2 threads", "--nthreads 1")
    assert not (tmp_path / "far").exists()
    live.reap()


@contextmanager
def closed_port() -> Iterator[int]:
    """Give a port on which nobody listens."""
    with socket.socket() as line:
        line.bind(("127.0.0.1", 0))
        yield line.getsockname()[1]


def test_nobody_there_is_one_line(tmp_path: Path, once: Path) -> None:
    with closed_port() as port:
        address = f"tcp://127.0.0.1:{port}"
        far = bubblegrade("grade", once / "cups", "--out", tmp_path / "far", "--cluster", address)
    refused(far, f"--cluster {address} does not answer: check the address")
    assert not (tmp_path / "far").exists()


def test_a_server_of_another_kind_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bubblegrade.runs.cluster.ANSWERS_S", 0.1)
    with (
        socket.create_server(("127.0.0.1", 0)) as server,
        pytest.raises(InputError, match="does not answer"),
        cluster_at(f"tcp://127.0.0.1:{server.getsockname()[1]}", ()),
    ):
        pass


@pytest.mark.parametrize("address", ["127.0.0.1:8786", "tcp://somewhere", "http://somewhere:80", "tcp://a:b"])
def test_what_is_no_address_is_one_line(address: str) -> None:
    with pytest.raises(InputError, match=r"is no address: write tcp://HOST:PORT"), cluster_at(address, ()):
        pass


def test_a_cluster_without_workers_is_one_line(live: Live) -> None:
    live.reap()
    with pytest.raises(InputError, match="has no worker: start some"), cluster_at(live.address, ()):
        pass


def test_without_the_extra_one_line_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match=r"pip install 'bubblegrade\[cluster\]'"), cluster_at("tcp://a:1", ()):
        pass


@pytest.mark.parametrize("option", [("--jobs", "2"), ("--again", "b.jpg")])
def test_what_is_for_this_machine_is_refused_with_a_cluster(option: tuple[str, str]) -> None:
    refused(bubblegrade("grade", "a.jpg", "--out", "R", *option, "--cluster", "tcp://a:1"), option[0], "--cluster")


def test_a_worker_with_another_version_is_refused() -> None:
    here = libraries()
    check_alike("worker a", here, dict(here), threads=1)
    with pytest.raises(InputError, match=r"^worker a has bubblegrade 9\.9, this machine .* install the same on both"):
        check_alike("worker a", here, {**here, "bubblegrade": "9.9"}, threads=1)
    with pytest.raises(InputError, match=r"has scipy missing"):
        check_alike("worker a", here, {name: here[name] for name in here if name != "scipy"}, threads=1)


def test_a_worker_that_sees_another_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"abc")
    # FIPS 180-2, appendix B.1
    assert sha256_of(tmp_path / "a") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    check_seen("worker a", tmp_path / "a", "1", "1")
    check_seen("worker a", tmp_path / "a", "", "1")
    with pytest.raises(InputError, match=r"^worker a sees another file as .*: name photographs in a folder"):
        check_seen("worker a", tmp_path / "a", "1", "2")
    with pytest.raises(InputError, match=r"does not see"):
        check_seen("worker a", tmp_path / "a", "1", sha256_of(tmp_path / "b"))
