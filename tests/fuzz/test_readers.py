"""Whatever is in a file, it is read or one line says what is wrong. For longer: python -m tests.fuzz --minutes 10."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bubblegrade.errors import BubblegradeError
from bubblegrade.photo.reading import read_photo
from tests.fuzz import seeds
from tests.fuzz.damage import Edit, damaged, edits
from tests.fuzz.laws import TARGETS, held

FOUND = Path(__file__).parent / "found"
EXAMPLES = {"photo": 250, "log": 40, "rescue": 25, "export": 40, "record": 40}  # of a target; of the others 60


@pytest.mark.parametrize("target", sorted(TARGETS))
def test_a_damaged_file_is_read_or_one_line_says_what_is_wrong(target: str) -> None:
    whole = TARGETS[target].whole

    @settings(
        max_examples=EXAMPLES.get(target, 60),
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(name=st.sampled_from(sorted(whole)), other=st.sampled_from(sorted(whole)), done=edits())
    def law(name: str, other: str, done: list[Edit]) -> None:
        held(TARGETS[target], name, damaged(whole[name], done, whole[other]))

    law()


@pytest.mark.parametrize("target", sorted(TARGETS))
def test_a_whole_file_is_read(target: str) -> None:
    for name, data in TARGETS[target].whole.items():
        if name.endswith((".dng", ".heic")):
            pytest.importorskip({"dng": "rawpy", "heic": "pillow_heif"}[name.rsplit(".", 1)[1]])
        assert held(TARGETS[target], name, data), name


@pytest.mark.parametrize("file", sorted(FOUND.iterdir()), ids=lambda file: file.name)
def test_what_was_once_found_stays_mended(file: Path) -> None:
    target, name = file.name.split("--")
    held(TARGETS[target.rsplit("-", 1)[0].replace("_", " ")], name, file.read_bytes())


@pytest.mark.parametrize("name", ["noted.jpg", "progressive.jpg", "noted.png", "noted.tif", "tiles.tif"])
def test_what_the_decoder_says_of_a_damaged_picture_never_reaches_the_terminal(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], name: str
) -> None:
    data = seeds.pictures()[name]
    for share in range(20):
        (tmp_path / name).write_bytes(damaged(data, [Edit(0, 0.5 + share / 41, share)]))
        with suppress(BubblegradeError):
            read_photo(tmp_path / name)
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize(("name", "begin"), [("noted.tif", 0.05), ("noted.jpg", 0.8)])
def test_a_picture_with_spoiled_data_is_refused_and_not_measured(tmp_path: Path, name: str, begin: float) -> None:
    # Noughts instead of LZW codes name entries that the table does not have yet (TIFF 6.0, section 13); in Huffman data
    # they shift the symbols until a code or the end comes too early (ISO/IEC 10918-1, F.2.2).
    for share in range(20):
        data = damaged(seeds.pictures()[name], [Edit(7, begin + share * (0.95 - begin) / 20, 96)])
        (tmp_path / name).write_bytes(data)
        with pytest.raises(BubblegradeError, match=r"^a is damaged .+: copy the photograph again$"):
            read_photo(tmp_path / name, name="a")
