"""What bubblegrade is installed with, and that it keeps to itself at run time."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
# Runs commands while every try to reach another machine, or to look one up, ends the process.
ALONE = """
import os, sys
def heard(event, args):
    if event in {"socket.connect", "socket.getaddrinfo", "socket.gethostbyname", "socket.sendto", "urllib.Request"}:
        os.write(2, f"{event} {args}".encode())
        os._exit(99)
sys.addaudithook(heard)
if sys.argv[1] == "reach out":
    import socket
    socket.create_connection(("192.0.2.1", 80))
import json
from bubblegrade.commands import main
for words in map(json.loads, sys.argv[1:]):
    try:
        main(words)
    except SystemExit as ended:
        if ended.code:
            sys.exit(f"{words} ended with {ended.code}")
"""


def alone(*words: str) -> subprocess.CompletedProcess[str]:
    """Run commands, each a list in JSON, one after another in a process that may not reach the network."""
    command = [sys.executable, "-c", ALONE, *words]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_the_lowest_versions_that_are_tested_are_those_that_are_allowed() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    allowed = dict(line.split(">=") for line in (*project["dependencies"], *extras["heic"], *extras["raw"]))
    lines = (ROOT / ".ci" / "lowest.txt").read_text("utf-8").splitlines()
    tested = dict(line.split("==") for line in lines if not line.startswith("#"))
    for name, version in allowed.items():
        assert re.fullmatch(rf"{re.escape(version)}(\.0)*(\.\d+)?", tested[name]), name


def test_reaching_out_is_noticed() -> None:
    assert alone("reach out").returncode == 99


def test_no_command_reaches_out(tmp_path: Path) -> None:
    cup, log = ROOT / "sample_images" / "cup-open-a.jpg", tmp_path / "log.sqlite"
    report = tmp_path / "report.html"
    commands = (
        ("grade", cup, "--out", tmp_path / "R", "--width", "36mm", "--report", report),
        ("log", "add", "--resin", "Clear One", "--photo", cup, "--log", log),
        ("log", "attach", tmp_path / "R", "--log", log),
        ("expect", "40psi", "--out", tmp_path / "E"),
        ("card", "--out", tmp_path / "card.pdf"),
    )
    done = alone(*(json.dumps([str(word) for word in words]) for words in commands))
    assert (done.returncode, done.stderr) == (0, "")
    assert {"run.json", "expect.json"} <= {place.name for place in tmp_path.rglob("*")}
    assert all((tmp_path / name).is_file() for name in ("report.html", "log.sqlite", "card.pdf"))
    page = report.read_text("utf-8")
    assert not re.search(r"(src|href)=[\"']?(https?:)?//|@import|url\((?!['\"]?(data:|#))", page)


def test_the_commands_run_as_a_module_too() -> None:
    done = subprocess.run([sys.executable, "-m", "bubblegrade", "grade", "no.jpg", "--out", "R"], capture_output=True,
                          text=True, check=False)  # fmt: skip
    assert (done.returncode, done.stderr) == (2, "bubblegrade: no.jpg does not exist: check the name\n")


@pytest.mark.parametrize(("shell", "words"), [("bash", "complete"), ("zsh", "compdef"), ("fish", "complete")])
def test_a_shell_can_be_taught_to_complete(shell: str, words: str) -> None:
    # click's own: the variable's name is the program's with _COMPLETE behind it
    done = subprocess.run(
        ["bash", "-c", "bubblegrade"],
        env={"PATH": str(Path(sys.executable).parent) + ":/usr/bin:/bin", "_BUBBLEGRADE_COMPLETE": f"{shell}_source"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert words in done.stdout
    assert "bubblegrade" in done.stdout


def test_a_command_is_completed_from_its_beginning() -> None:
    done = subprocess.run(
        ["bash", "-c", "bubblegrade"],
        env={
            "PATH": str(Path(sys.executable).parent) + ":/usr/bin:/bin",
            "_BUBBLEGRADE_COMPLETE": "bash_complete",
            "COMP_WORDS": "bubblegrade photo",
            "COMP_CWORD": "1",
        },
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout.split() == ["plain,photocheck"]
