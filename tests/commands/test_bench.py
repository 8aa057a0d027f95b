"""`bubblegrade bench` as people call it."""

from __future__ import annotations

import signal
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from tests.command_line import bubblegrade


@pytest.mark.parametrize("extra", [[], ["--share"]], ids=["alone", "shared"])
def test_it_says_where_the_page_is_and_ends_with_ctrl_c(tmp_path: Path, extra: list[str]) -> None:
    command = [sys.executable, "-c", "from bubblegrade.commands import main; main()", "bench", str(tmp_path)]
    with subprocess.Popen(
        [*command, "--no-browser", "--who", "Ann", "--log", str(tmp_path / "mine.sqlite"), *extra],
        stdout=subprocess.PIPE,
        text=True,
    ) as bench:
        assert bench.stdout is not None
        url = bench.stdout.readline().split()[4]
        assert url.startswith("http://127.0.0.1:")
        with urllib.request.urlopen(url) as answer:  # noqa: S310 - the address that it said
            page = answer.read().decode("utf-8")
        assert "The tray is empty" in page
        with urllib.request.urlopen(f"{url}log") as answer:  # noqa: S310
            assert "mine.sqlite" in answer.read().decode("utf-8")
        if extra:
            said = bench.stdout.readline()
            assert "code" in said or "on no network" in said
        assert ("Another device joins with the code" in page) == bool(extra)
        bench.send_signal(signal.SIGINT)
        assert bench.wait(30) == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("none",), "none is no folder: name the folder with the photographs"),
        ((".", "--who", " "), "--who ' ' cannot be used"),
        ((".", "--port", "0"), "--port"),
    ],
)
def test_what_cannot_be_served_is_said_in_one_line(arguments: tuple[str, ...], words: str) -> None:
    result = bubblegrade("bench", *arguments, "--no-browser")
    assert result.exit_code == 2
    (line,) = result.stderr.splitlines()
    assert words in line


def test_without_the_extra_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    result = bubblegrade("bench", tmp_path)
    assert result.exit_code == 2
    assert "starlette and uvicorn not installed: pip install 'bubblegrade[bench]'" in result.stderr
