"""`bubblegrade selfcheck`."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from bubblegrade.commands import main
from bubblegrade.runs import installed, selfcheck
from bubblegrade.runs.installed import Extra
from bubblegrade.runs.selfcheck import DrawnCheck


def run() -> Result:
    """Run the command."""
    return CliRunner().invoke(main, ["selfcheck"])


def test_a_whole_installation_is_all_well() -> None:
    pytest.importorskip("rawpy")
    pytest.importorskip("pillow_heif")
    pytest.importorskip("starlette")
    result = run()
    assert (result.exit_code, result.stderr) == (0, "")
    lines = {line[:16].strip(): line[17:] for line in result.stdout.splitlines()}
    assert {
        "bubblegrade",
        "Python",
        "numpy",
        "extra heic",
        "extra raw",
        "extra bench",
        "system",
        "cores",
        "memory",
    } <= set(lines)
    assert lines["drawn casting"].startswith("right: 5 of 5 voids found, diameters within ")


def test_a_missing_extra_is_status_3_with_its_cure(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(installed, "extras", lambda: (Extra("raw", "rawpy", "camera raw and DNG", None),))
    result = run()
    assert result.exit_code == 3
    assert "extra raw        not installed; for camera raw and DNG: pip install 'bubblegrade[raw]'" in result.stdout


@pytest.mark.parametrize(
    ("drawn", "words"),
    [
        (DrawnCheck(5, 3, float("nan")), "WRONG: 3 of 5 voids found, not those drawn"),
        (DrawnCheck(5, 5, 0.2), "WRONG: 5 of 5 voids found, a diameter is 20.0% off, over 6%"),
    ],
)
def test_a_casting_that_comes_out_wrong_is_status_1(
    monkeypatch: pytest.MonkeyPatch, drawn: DrawnCheck, words: str
) -> None:
    monkeypatch.setattr(selfcheck, "checked_drawing", lambda: drawn)
    result = run()
    assert result.exit_code == 1
    assert words in result.stdout


def test_a_system_that_does_not_tell_its_memory_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bubblegrade.runs.machine.free_bytes", lambda: float("inf"))
    assert "an amount that the system does not tell free of" in run().stdout


def test_a_missing_library_of_the_system_ends_the_list_with_its_cure(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    import sys  # noqa: PLC0415

    class Unlinked:
        """Finds no module, and says that a library of the system is missing."""

        def find_spec(self, name: str, *_: object) -> None:
            if name == "bubblegrade.runs.selfcheck":
                raise ImportError("libGL.so.1: cannot open shared object file: No such file or directory")

    monkeypatch.chdir(tmp_path)
    monkeypatch.delitem(sys.modules, "bubblegrade.runs.selfcheck", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Unlinked(), *sys.meta_path])
    result = run()
    assert result.exit_code == 2
    assert "numpy" in result.stdout
    assert result.stderr.startswith("bubblegrade: OpenCV needs the system library libGL.so.1")
