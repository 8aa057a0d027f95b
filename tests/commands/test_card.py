"""`bubblegrade card`, from the command line to the file to print."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pypdf
import pytest
from click.testing import CliRunner, Result

from bubblegrade.commands import main
from tests.command_line import refused_with


def card(*arguments: str | Path) -> Result:
    """Run the command."""
    return CliRunner().invoke(main, ["card", *(str(argument) for argument in arguments)])


def test_without_anything_else_the_card_is_a4_on_paper_with_a_window_of_60_mm(tmp_path: Path) -> None:
    out = tmp_path / "card.pdf"
    result = card("--out", out)
    assert (result.exit_code, result.stdout) == (0, f"{out}\n")
    page = pypdf.PdfReader(out).pages[0]
    assert float(page.mediabox.width) == pytest.approx(210 / 25.4 * 72, abs=0.01)
    assert "A4, window 60 mm" in page.extract_text()


def test_the_suffix_says_the_format_and_a_folder_gets_both(tmp_path: Path) -> None:
    assert card("--paper", "strip", "--film", "--out", tmp_path / "a.SVG").exit_code == 0
    assert (tmp_path / "a.SVG").read_bytes().startswith(b"<?xml")
    result = card("--paper", "Letter", "--window", "2in", "--out", tmp_path / "cards")
    assert [path.name for path in sorted((tmp_path / "cards").iterdir())] == [
        "card-letter-60mm.pdf",
        "card-letter-60mm.svg",
    ]
    assert result.stdout.splitlines()[-1] == "The window is 60 mm: full squares of 10 mm."


def test_the_same_card_twice_is_the_same_to_the_byte(tmp_path: Path) -> None:
    for name in ("a.pdf", "b.pdf"):
        assert card("--window", "80mm", "--film", "--out", tmp_path / name).exit_code == 0
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_an_earlier_card_is_replaced_only_when_asked(tmp_path: Path) -> None:
    out = tmp_path / "card.svg"
    assert card("--out", out).exit_code == 0
    refused_with(
        card("--paper", "letter", "--out", out), f"{tmp_path} holds a result already (card.svg): add --replace"
    )
    before = out.read_bytes()
    assert card("--paper", "letter", "--out", out, "--replace").exit_code == 0
    assert out.read_bytes() != before
    assert [path.name for path in tmp_path.iterdir()] == ["card.svg"]


def test_what_cannot_be_printed_is_refused_with_value_and_cure(tmp_path: Path) -> None:
    out = tmp_path / "card.pdf"
    refused_with(card(), "no file for the card is named: add --out card.pdf")
    refused_with(card("--out", tmp_path / "card.png"), f"--out {tmp_path}/card.png is neither PDF nor SVG: name it")
    refused_with(card("--paper", "a3", "--out", out), "--paper a3 is not known: choose one of a4, letter, strip")
    refused_with(card("--window", "60", "--out", out), "--window 60 has no unit: write 60mm")
    refused_with(card("--window", "15cm", "--out", out), "--window 150mm does not fit the sheet: give up to 140mm")
    refused_with(card("--paper", "strip", "--window", "60mm", "--out", out), "--window 60mm says nothing of a strip")
    assert not out.exists()


@pytest.mark.parametrize("command", ["card", "lens"])
def test_help_waits_for_no_library(command: str) -> None:
    code = (
        "import sys; from bubblegrade.commands import main\n"
        f"try: main(['{command}', '--help'])\n"
        "except SystemExit: print(sorted({'cv2', 'numpy', 'scipy', 'matplotlib'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
