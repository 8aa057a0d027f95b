"""The commands of README.md, copied from it and run as a newcomer runs them: in a fresh copy, with nothing installed.

The first runs as it stands, on a machine without a compiler. The second is what the checks run, from a clean checkout
in a fresh environment: running it here too would run this test again and again.
"""

from __future__ import annotations

import csv
import importlib
import io
import os
import re
import shutil
import subprocess
import zipfile
from pathlib import Path

import click
import pytest

from bubblegrade.commands import COMMANDS
from bubblegrade.runs.pot_file import KEYS, read_pot
from bubblegrade.settings import Settings, read_settings

ROOT = Path(__file__).parents[1]
NOT_COPIED = shutil.ignore_patterns(
    ".git", ".venv", "build", "dist", "__pycache__", "*.egg-info", ".*_cache", ".coverage*"
)
SECONDS = 900
COMPILERS = ("cc", "gcc", "g++", "c++", "clang", "clang++", "gfortran", "rustc", "cargo")
WHEEL_BYTES = 3_000_000

needs_python = pytest.mark.skipif(not shutil.which("python3.11"), reason="README.md starts from a python3.11")


def shell_blocks() -> list[str]:
    """Return every block of README.md that is for a shell."""
    return re.findall(r"^```sh\n(.*?)^```$", (ROOT / "README.md").read_text("utf-8"), re.MULTILINE | re.DOTALL)


def newcomer_runs(block: str, copy: Path, **env: str) -> subprocess.CompletedProcess[str]:
    """Run a block in a copy of the repository, without what this Python knows."""
    ours = ("PYTEST", "PYTHON", "COV", "VIRTUAL_ENV")
    kept = {name: value for name, value in os.environ.items() if not name.startswith(ours)}
    return subprocess.run(
        ["bash", "-c", block],
        cwd=copy,
        env={**kept, **env},
        capture_output=True,
        text=True,
        check=False,
        timeout=SECONDS,
    )


def without_compilers(folder: Path) -> str:
    """Return a search path on which every compiler refuses to work."""
    folder.mkdir()
    for name in COMPILERS:
        (folder / name).write_text("#!/bin/sh\nexit 1\n")
        (folder / name).chmod(0o755)
    return f"{folder}{os.pathsep}{os.environ['PATH']}"


def check_installed(packages: Path) -> None:
    """Check what a wheel of ours has installed: little, with its types, weights, schemas and page, and no tests."""
    (told,) = packages.glob("bubblegrade-*.dist-info")
    assert "Tag: py3-none-any\n" in (told / "WHEEL").read_text("utf-8")
    with (told / "RECORD").open(encoding="utf-8", newline="") as file:
        names = {name for name, *_ in csv.reader(file) if "__pycache__" not in name}
    assert {"bubblegrade/voids/judge.npz", "bubblegrade/results/run.schema.json"} <= names
    assert {"bubblegrade/py.typed", "bubblegrade/show/report/report.html"} <= names
    assert {name.split("/")[0] for name in names} == {"bubblegrade", told.name, ".."}
    assert [name for name in names if name.startswith("..")] == ["../../../bin/bubblegrade"]
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as wheel:
        for name in names:
            wheel.write(packages / name, name)
    assert packed.tell() < WHEEL_BYTES


@needs_python
def test_a_newcomer_grades_the_samples_from_a_wheel_without_a_compiler(tmp_path: Path) -> None:
    copy, path = tmp_path / "clone", without_compilers(tmp_path / "bin")
    shutil.copytree(ROOT, copy, ignore=NOT_COPIED)
    shutil.rmtree(copy / "results", ignore_errors=True)
    first = shell_blocks()[0]
    done = newcomer_runs(first, copy, PATH=path)
    assert done.returncode == 0, done.stdout + done.stderr
    results = copy / "results"
    samples = sorted(place.stem for place in (ROOT / "sample_images").glob("*.jpg"))
    assert sorted(place.name for place in results.glob("*-marked.jpg")) == [f"{name}-marked.jpg" for name in samples]
    assert {"castings.csv", "voids.csv", "set-aside.csv", "run.json"} <= {place.name for place in results.iterdir()}
    assert "UNFIT" in done.stdout
    check_installed(next((copy / ".venv" / "lib").glob("python3*")) / "site-packages")


def test_the_second_command_is_what_the_checks_run() -> None:
    command = shell_blocks()[1].strip()
    assert command.endswith(".venv/bin/python -m pytest")
    assert "-e '.[test]'" in command
    checks = (ROOT / ".ci" / "run").read_text("utf-8")
    assert "-e '.[test]'" in checks
    assert re.search(r"python\" -m pytest --cov\b", checks)


def options_of(command: click.Command) -> set[str]:
    """Return the options of a command and of those below it."""
    own = {option for parameter in command.params for option in parameter.opts if option.startswith("--")}
    below = command.commands.values() if isinstance(command, click.Group) else ()
    return own.union(*map(options_of, below))


def test_every_option_of_the_readme_exists_and_every_one_of_grade_is_in_it() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    known = {
        name: options_of(getattr(importlib.import_module(f"bubblegrade.commands.{name}"), name)) for name in COMMANDS
    }
    written = set(re.findall(r"(?<![\w-])(--[a-z][a-z-]+)", text)) - {
        "--ignore",
        "--nthreads",
        "--nworkers",
    }  # those of pytest and of Dask
    assert written <= set().union(*known.values())
    assert known["grade"] - {"--out"} <= written
    assert {"--graded", "--same-setup", "--visible", "--tolerate", "--casting-volume", "--cup-spread"} <= written


def test_every_command_has_a_place_in_the_readme() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    for name in COMMANDS:
        assert f"bubblegrade {name}" in text


def test_the_readme_s_pot_can_be_read_and_has_every_key() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    (written,) = re.findall(r"^```toml\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)
    assert read_pot(written, name="README.md").limits.lowest is not None
    assert set(re.findall(r"^(\w+) =", written, re.MULTILINE)) == set(KEYS)


def test_the_readme_s_settings_are_the_usual_ones() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    (grades,) = re.findall(r"`(grades = \{.*?\})`", text)
    assert read_settings(grades, name="README.md").grades == Settings().grades
    for name in ("index", "smallest_px", "accept", "unsure"):
        (said,) = re.findall(rf"`{name}`\s+\((\d[\d.]*)", text)
        assert float(said) == getattr(Settings(), name)


def test_every_sample_is_described() -> None:
    text = (ROOT / "sample_images" / "README.md").read_text("utf-8")
    photographs = [place for place in (ROOT / "sample_images").rglob("*") if place.suffix in (".jpg", ".heic")]
    assert len(photographs) >= 12
    for place in photographs:
        assert f"`{place.relative_to(ROOT / 'sample_images').as_posix()}`" in text


def test_every_link_leads_somewhere() -> None:
    for page in (ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "sample_images" / "README.md"):
        for link in re.findall(r"\]\(([^)#:]+)\)", page.read_text("utf-8")):
            assert (page.parent / link).exists(), f"{page.name}: {link}"
