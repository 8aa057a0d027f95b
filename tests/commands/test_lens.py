"""`bubblegrade lens`, from photographs of the card to a lens file."""

from __future__ import annotations

from pathlib import Path

import cv2
import pytest
from click.testing import CliRunner, Result

from bubblegrade.commands import main
from bubblegrade.drawn.cards import Shot, paint, photograph
from bubblegrade.photo.card import make_card
from bubblegrade.photo.card_shapes import black_shapes
from bubblegrade.photo.lens import lens_from_text


def lens(*arguments: str | Path) -> Result:
    """Run the command."""
    return CliRunner().invoke(main, ["lens", *(str(argument) for argument in arguments)])


@pytest.fixture(scope="module")
def photographs(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Return photographs of a card, tilted to two sides."""
    folder = tmp_path_factory.mktemp("card")
    sheet = paint(black_shapes(make_card().layout, film=False), half_mm=(56.0, 64.0), window_mm=60.0)
    paths = []
    for towards in (0, 100):
        paths.append(folder / f"{towards}.png")
        shot = Shot(tilt_degrees=20.0, tilt_towards_degrees=towards, k1=-0.1, mm_per_px=0.16, seed=towards)
        cv2.imwrite(str(paths[-1]), photograph(sheet, shot))
    return paths


def test_two_photographs_of_a_card_make_a_lens_file(tmp_path: Path, photographs: list[Path]) -> None:
    result = lens(*photographs, "--out", tmp_path / "lens.toml")
    assert result.exit_code == 0, result.output
    found = lens_from_text((tmp_path / "lens.toml").read_text("utf-8"), name="lens.toml")
    assert found.lens.focal_px == pytest.approx(900.0, rel=0.003)
    assert found.lens.k1 == pytest.approx(-0.1, abs=0.01)
    assert found.lens.shape_px == (800, 1000)
    focal, distortion, marks = result.stdout.splitlines()
    assert focal == f"focal length {found.lens.focal_px:.1f} +- {found.lens.focal_err_px:.1f} px"
    assert distortion.startswith("distortion   k1 -0.")
    assert marks.endswith("px off, 2 photographs")


def test_what_tells_no_lens_is_refused_and_nothing_is_left(tmp_path: Path, photographs: list[Path]) -> None:
    bare = tmp_path / "bare.png"
    cv2.imwrite(str(bare), 200 * cv2.imread(str(photographs[0])).astype("uint8") ** 0)
    out = tmp_path / "new" / "lens.toml"
    for arguments, line in (
        ((photographs[0], "--out", out), "1 of at least 2 photographs of the card named: photograph it tilted"),
        (photographs, "no file for the lens is named: add --out lens.toml"),
        ((*photographs, "--out", "lens.json"), "--out lens.json is no lens file: name it lens.toml"),
        ((*photographs, photographs[0], "--out", out), f"{photographs[0]} is given twice, or a copy of it: photograph"),
        ((photographs[0], bare, "--out", out), f"{bare}: no scale card is found (0 markers seen, 4 needed)"),
    ):
        result = lens(*arguments)
        assert result.exit_code == 2
        assert result.stderr.startswith(f"bubblegrade: {line}"), result.stderr
    assert not out.parent.exists()
