"""What is seen of a folder that a camera writes to: its state at each look is given, no clock runs."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from bubblegrade.runs.looks import PAUSE, STEADY, Arrivals, Folder, Stamp

A, B = Path("a.jpg"), Path("b.jpg")


def looks(*seen: dict[Path, Stamp]) -> list[list[Path]]:
    """Return what has arrived at each look."""
    arrivals = Arrivals()
    return [arrivals.whole(now) for now in seen]


def still(*files: Path, stamp: Stamp = (9, 1)) -> list[dict[Path, Stamp]]:
    """Return what is seen until files are whole that do not change."""
    return [dict.fromkeys(files, stamp)] * (STEADY + 1)


def test_a_file_is_whole_when_looks_find_it_unchanged_and_is_told_once() -> None:
    assert looks(*still(A), *still(A)) == [*[[]] * STEADY, [A], *[[]] * (STEADY + 1)]


@pytest.mark.parametrize("later", [(10, 1), (9, 2)], ids=["larger", "written to again"])
def test_a_file_that_grows_or_is_written_to_is_waited_for(later: Stamp) -> None:
    assert looks(*still(A)[1:], *still(A, stamp=later)) == [*[[]] * (2 * STEADY), [A]]


def test_a_file_that_changes_later_arrives_again() -> None:
    assert looks(*still(A), *still(A, stamp=(9, 2))) == [*[[]] * STEADY, [A], *[[]] * STEADY, [A]]


@pytest.mark.parametrize("kind", [".jpg", ".png", ".tif"])
def test_a_file_that_ends_as_its_format_does_is_told_at_once_and_a_part_of_it_is_not(tmp_path: Path, kind: str) -> None:
    _, whole = cv2.imencode(kind, np.random.default_rng(1).integers(0, 255, (40, 40), np.uint8))
    for data, soon in ((whole.tobytes(), kind != ".tif"), (whole.tobytes()[:-9], False), (b"x", False)):
        path = tmp_path / f"{len(data)}{kind}"
        path.write_bytes(data)
        found = looks(*[Folder(tmp_path).look()] * (STEADY + 2))
        assert [path in each for each in found] == [soon, *[False] * (STEADY - 1), not soon, False]
        path.unlink()


def test_a_file_that_is_doubted_is_waited_for_until_it_changes(tmp_path: Path) -> None:
    path, arrivals = tmp_path / "a.jpg", Arrivals()
    path.write_bytes(b"a picture's small picture\xff\xd9")

    def found(seen: int, stamp: Stamp) -> list[bool]:
        return [arrivals.whole({path: stamp}) == [path] for _ in range(seen)]

    assert found(1, (9, 1)) == [True]
    arrivals.doubt(path)
    assert found(PAUSE + 1, (9, 1)) == [*[False] * (PAUSE - 1), True, False]
    assert found(1, (9, 2)) == [True]


def test_a_renamed_file_is_waited_for_under_its_new_name() -> None:
    assert looks(*still(A)[1:], *still(B)) == [*[[]] * (2 * STEADY), [B]]


def test_hidden_and_other_files_are_passed_over(tmp_path: Path) -> None:
    for name in ("b.JPG", "sub/a.png", ".hidden.jpg", ".sub/c.jpg", "notes.txt", "a.jpg.part"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"data")
    assert [path.relative_to(tmp_path).as_posix() for path in Folder(tmp_path).look()] == ["b.JPG", "sub/a.png"]


def test_links_that_lead_nowhere_or_to_folders_are_passed_over(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"data")
    (tmp_path / "folder.jpg").mkdir()
    (tmp_path / "folder.jpg" / "b.jpg").write_bytes(b"data")
    for name, to in (
        ("round.jpg", "round.jpg"),
        ("gone.jpg", "nowhere"),
        ("again.jpg", "folder.jpg"),
        ("c.jpg", "a.jpg"),
    ):
        (tmp_path / name).symlink_to(to)
    found = [path.relative_to(tmp_path).as_posix() for path in Folder(tmp_path).look()]
    assert found == ["a.jpg", "c.jpg", "folder.jpg/b.jpg"]


def test_the_camera_pauses_when_no_file_has_changed_for_a_while() -> None:
    arrivals = Arrivals()
    seen = [{A: (9, 1)}] * (PAUSE + 1) + [{A: (9, 1), B: (9, 2)}] * (PAUSE + 1) + [{A: (9, 1)}]
    pauses = [(arrivals.whole(now), arrivals.pause)[1] for now in seen]
    assert pauses == [*[False] * PAUSE, True, *[False] * PAUSE, True, True]
