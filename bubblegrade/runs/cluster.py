"""Photographs graded on a Dask cluster, whose workers read them, under the same path, from a folder that all share.

Each worker is looked at before anything is sent, and looks at what is sent to it; see `far`.
"""

from __future__ import annotations

import logging
import re
import socket
import warnings
from collections.abc import Generator, Iterator, Sequence
from concurrent.futures import CancelledError, Future
from contextlib import contextmanager
from dataclasses import dataclass, replace
from importlib.metadata import version
from pathlib import Path
from typing import Any, Final

from bubblegrade.errors import CutShortError, InputError
from bubblegrade.results.run import NotGraded
from bubblegrade.runs.far import Far, absolute, check_alike, check_seen, libraries, packed, sha256_of
from bubblegrade.runs.inputs import Source
from bubblegrade.runs.one import Draw, Graded, Task, lost, marked
from bubblegrade.runs.workers import Pool, worked

MISSING: Final = "--cluster needs what speaks to it: pip install 'bubblegrade[cluster]', or leave it out"
ADDRESS: Final = re.compile(r"tcp://(\[[0-9a-fA-F:.]+\]|[^\s/:\[\]]+):\d{1,5}")
ANSWERS_S: Final = 5  # within which a scheduler answers
AHEAD: Final = 2  # photographs sent for each worker, so that none waits


@dataclass(frozen=True)
class Cluster:
    """A cluster whose workers are as this machine."""

    address: str
    pool: Pool

    def graded(
        self, sources: Sequence[Source], task: Task, draw: Draw = marked
    ) -> Generator[tuple[int, Graded | NotGraded], None, None]:
        """Yield the place of each photograph and what came of it, as they are finished.

        Raises
        ------
        CutShortError
            The scheduler is gone.
        """
        blank = None if task.blank is None else absolute(task.blank)
        far = Far(replace(task, blank=blank), "" if blank is None else sha256_of(blank), draw, libraries())
        try:
            yield from worked(far, sources, jobs=self.pool.jobs, lost=lost, pool=self.pool)
        except CancelledError as error:  # all that is under way, where the library has lost its scheduler
            raise CutShortError(
                f"--cluster {self.address} is gone: bring its scheduler and workers back, and go on with --resume "
                "(what was begun with --replace begins again)"
            ) from error


@contextmanager
def cluster_at(address: str, sources: Sequence[Source]) -> Iterator[Cluster]:
    """Give the cluster whose scheduler listens at `address`, after a look whether it can grade these photographs.

    Raises
    ------
    InputError
        The extra is not installed, nobody answers there, or a worker has not what this machine has.
    """
    if not ADDRESS.fullmatch(address):
        raise InputError(f"--cluster {address} is no address: write tcp://HOST:PORT, as the scheduler prints it")
    try:
        import distributed  # noqa: PLC0415
    except ImportError:
        raise InputError(MISSING) from None
    connect: Any = distributed.Client
    # A worker that dies is told of by the library in several lines; its photograph is graded by another.
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    for name in ("client", "core", "comm.tcp", "batched"):
        logging.getLogger(f"distributed.{name}").setLevel(logging.CRITICAL)
    try:
        _await_greeting(address)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of other versions: held to what counts below
            client = connect(address, timeout=ANSWERS_S, set_as_default=False)
    except (OSError, ValueError, OverflowError, RuntimeError) as error:
        raise InputError(
            f"--cluster {address} does not answer: check the address, and that a Dask scheduler listens there"
        ) from error
    try:
        _check_workers(client, address, sources)
        jobs = AHEAD * len(client.nthreads())
        yield Cluster(address, Pool(jobs, {"backend": _backend(client)}, distributed.KilledWorker, packed=packed))
    finally:
        client.close()


def _await_greeting(address: str) -> None:
    """Wait for the first byte that a scheduler sends to whoever connects; others would be waited for without an end.

    Raises
    ------
    OSError
        Nobody listens there, or says nothing.
    """
    host, port = address.removeprefix("tcp://").rsplit(":", 1)
    with socket.create_connection((host.strip("[]"), int(port)), timeout=ANSWERS_S) as line:
        if not line.recv(1):
            raise ConnectionError(address)


def _backend(client: Any) -> Any:
    """Return joblib's way to a Dask cluster, which also tells of work that was given up, where joblib's own would wait.

    A cluster of one worker is one too: joblib's own would do its work here.
    """
    from joblib._dask import DaskDistributedBackend  # noqa: PLC0415

    class Backend(DaskDistributedBackend):  # type: ignore[misc]
        def effective_n_jobs(self, n_jobs: int) -> int:
            return n_jobs

        def submit(self, func: Any, callback: Any = None) -> Any:
            future = super().submit(func, callback)
            future.add_done_callback(lambda done: callback(done) if done.exception() else None)
            return future

        def retrieve_result_callback(self, out: Any) -> Any:
            return out.result() if isinstance(out, Future) else super().retrieve_result_callback(out)

    return Backend(client=client)


def _check_workers(client: Any, address: str, sources: Sequence[Source]) -> None:
    """Refuse a cluster without workers, and workers that are not as this machine or do not see the first photograph."""
    threads = client.nthreads()
    if not threads:
        raise InputError(f"--cluster {address} has no worker: start some with dask worker {address} --nthreads 1")
    path = absolute(sources[0].path) if sources else None
    try:
        found = client.run(_look, path)
    except ModuleNotFoundError as error:
        raise InputError(
            f"--cluster {address} has a worker without {error.name}: install bubblegrade {version('bubblegrade')} there"
        ) from error
    here = libraries(), "" if path is None else sha256_of(path)
    for worker, (there, sha256) in sorted(found.items()):
        check_alike(f"worker {worker}", here[0], there, threads=threads.get(worker, 1))
        if path is not None:
            check_seen(f"worker {worker}", path, here[1], sha256)


def _look(path: Path | None) -> tuple[dict[str, str], str]:
    """Return what a worker has and sees."""
    return libraries(), "" if path is None else sha256_of(path)
