"""The command line as tests run it, and what it leaves behind."""

from __future__ import annotations

import csv
import io
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from rich.console import Console

from bubblegrade.commands import main


def bubblegrade(*arguments: str | Path, **env: str) -> Result:
    """Run the command line."""
    return CliRunner().invoke(main, [str(argument) for argument in arguments], env=env)


def imported_by(*arguments: str) -> tuple[str, set[str]]:
    """Run the command line in a process of its own; return what it printed, and the modules that it imported."""
    code = (
        "import sys\n"
        "from bubblegrade.commands import main\n"
        "try:\n"
        f"    main({list(arguments)})\n"
        "except SystemExit:\n"
        "    pass\n"
        "sys.exit(' '.join(sys.modules))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    return done.stdout, set(done.stderr.splitlines()[-1].split())


def said(console: Console) -> str:
    """Return what was printed on a terminal that keeps it."""
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def refused(result: Result, *words: str) -> None:
    """Check that a run ended with status 2 and one line on stderr that has all `words`."""
    line = _only_line(result)
    for word in words:
        assert word in line


def refused_with(result: Result, line: str) -> None:
    """Check that a run ended with status 2 and one line on stderr that begins like this."""
    said = _only_line(result)
    assert said.startswith(f"bubblegrade: {line}"), said


def _only_line(result: Result) -> str:
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    (line,) = result.stderr.splitlines()
    assert line.startswith("bubblegrade: ")
    return line


def below(folder: Path) -> list[str]:
    """Return the names of all files below a folder."""
    return sorted(contents(folder))


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file below a folder by its name."""
    return {file.relative_to(folder).as_posix(): file.read_bytes() for file in folder.rglob("*") if file.is_file()}


def rows(table: Path) -> list[dict[str, str]]:
    """Return the rows of a CSV table."""
    with table.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@contextmanager
def ctrl_c_after(files: int) -> Iterator[None]:
    """Let Ctrl-C be pressed when so many files have been written whole."""
    real, left = os.replace, iter(range(files))

    def stop(*names: str) -> None:
        if next(left, None) is None:
            raise KeyboardInterrupt
        real(*names)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "replace", stop)
        yield


@contextmanager
def full_disk(limit: int) -> Iterator[None]:
    """Let no file of this process grow past `limit` bytes, as on a full disk."""
    resource = pytest.importorskip("resource")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
