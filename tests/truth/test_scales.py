"""The samples on a card and beside a coin: true diameters in mm, and the scale's doubt in them."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from bubblegrade.casting.edge import widest_span
from bubblegrade.casting.outline import find_outline
from bubblegrade.commands import main
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.on_disc import OnDisc, beside_disc
from bubblegrade.photo.reading import read_photo

SAMPLES = Path(__file__).parents[2] / "sample_images"


def graded(photo: Path, out: Path, *options: str) -> tuple[np.ndarray, dict[str, object]]:
    """Return the voids of a sample, graded by the command, as (n, 2) mm and its uncertainty, and its run.json part."""
    done = CliRunner().invoke(main, ["grade", str(photo), "--out", str(out), *options])
    assert done.exit_code == 0, done.output
    rows = np.genfromtxt(out / "voids.csv", delimiter=",", names=True, dtype=None, encoding="utf-8")
    (casting,) = json.loads((out / "run.json").read_text("utf-8"))["castings"]
    return rows, casting


def truth_of(folder: Path, photo: str) -> dict[str, np.ndarray]:
    """Return the true voids of a photograph."""
    with (folder / "truth.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["photo"] == photo]
    return {
        name: np.array([float(row[name]) for row in rows]) for name in ("x_px", "y_px", "diameter_px", "diameter_mm")
    }


@pytest.mark.parametrize("known", [True, False], ids=["camera height stated", "nothing known of the camera"])
def test_a_coin_gives_true_diameters_within_what_the_scale_states(tmp_path: Path, known: bool) -> None:  # noqa: FBT001
    place = SAMPLES / "with-a-scale"
    camera = ("--camera-height", "298mm") if known else ()
    found, casting = graded(
        place / "cup-coin-a.jpg", tmp_path / "R", "--disc", "21.25mm", "--thickness", "12mm", *camera
    )
    true = truth_of(place, "cup-coin-a.jpg")
    apart = np.hypot(found["x_px"][:, None] - true["x_px"], found["y_px"][:, None] - true["y_px"])
    nearest = apart.argmin(axis=1)
    hit = (apart.min(axis=1) < 3.0) & (true["diameter_px"][nearest] > 8.0)
    assert hit.sum() >= 30
    ratio = np.median(found["diameter_mm"][hit] / true["diameter_mm"][nearest][hit])
    scale = casting["scale"]
    assert isinstance(scale, dict)
    share = scale["mm_per_px_err"] / scale["mm_per_px"]
    assert share < (0.01 if known else 0.06)
    assert abs(ratio - 1.0) < 1.96 * share
    assert scale["source"].startswith("disc, 21.25 mm, ")
    assert casting["span_px"] is not None


def test_the_coin_is_neither_casting_nor_void(tmp_path: Path) -> None:
    found, casting = graded(SAMPLES / "with-a-scale" / "cup-coin-a.jpg", tmp_path / "R", "--disc", "21.25mm")
    outline = casting["outline"]
    assert isinstance(outline, dict)
    assert max(outline["x_px"]) < 1110  # the coin begins at 1053 and ends at 1445, 760 rows down
    assert not ((found["x_px"] > 1060) & (found["y_px"] > 760)).any()


def test_a_coin_in_view_that_is_not_asked_for_leaves_the_outline_and_the_widest_span_what_they_are() -> None:
    photo = read_photo(SAMPLES / "with-a-scale" / "cup-coin-a.jpg")
    alone, _, _ = beside_disc(photo, OnDisc(21.25, 298.0), thickness_mm=12.0, index=1.5)
    with_coin, without = (find_outline(grey_light(picture.codes, picture.tone)) for picture in (photo, alone))
    assert with_coin is not None
    assert without is not None
    assert with_coin.area_px == pytest.approx(without.area_px, rel=0.01)
    assert widest_span(with_coin.edge_px)[2] == pytest.approx(widest_span(without.edge_px)[2], rel=0.005)


def test_a_card_seen_from_aside_gives_the_diameters_of_the_photograph_laid_on_it(tmp_path: Path) -> None:
    options = ("--card", "--printed", "100mm", "--thickness", "0.2mm")  # it was laid flat on the card
    found, _ = graded(SAMPLES / "with-a-scale" / "cup-card-a.jpg", tmp_path / "R", *options)
    true = np.sort(truth_of(SAMPLES, "cup-60psi-a.jpg")["diameter_mm"])[::-1]
    largest = np.sort(found["diameter_mm"])[::-1][:20]
    np.testing.assert_allclose(np.median(largest / true[:20]), 1.0, atol=0.02)


def test_a_phones_picture_has_the_voids_of_the_same_photograph_as_jpeg(tmp_path: Path) -> None:
    phone, casting = graded(SAMPLES / "from-a-phone" / "cup-60psi-a.heic", tmp_path / "A", "--width", "36mm")
    plain, _ = graded(SAMPLES / "cup-60psi-a.jpg", tmp_path / "B", "--width", "36mm")
    assert abs(len(phone) - len(plain)) <= 2
    assert np.median(phone["diameter_mm"]) == pytest.approx(np.median(plain["diameter_mm"]), rel=0.02)
    noted = casting["noted"]
    assert isinstance(noted, dict)
    assert (noted["camera"], noted["taken"], noted["exposure_s"]) == ("Example One", "2026-05-03T14:22:10", 0.008)
