"""A piece that came back: its earlier and its later photograph graded and compared, void by void."""

from __future__ import annotations

import filecmp
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Final

from bubblegrade.corrected.numbers import Basis
from bubblegrade.errors import InputError
from bubblegrade.grading.regrowth import Regrowth, compare
from bubblegrade.grading_run import Casting
from bubblegrade.photo.light import Codes
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.regrowth import RECORD_FILE, CameBack
from bubblegrade.runs.inputs import Sources, find_sources
from bubblegrade.runs.many import Reports, grade_each
from bubblegrade.runs.one import Picture, Task
from bubblegrade.runs.put_right import PutRight, put_right
from bubblegrade.show.marked import marked_jpeg
from bubblegrade.show.regrowth import regrowth_jpeg

PICTURE_FILE: Final = "regrowth.jpg"
BOTH: Final = ("earlier", "later")
SAME_SETUP: Final = "as you said, light, camera, distance and focus were the same in both photographs"


def two_sources(photographs: Sequence[Path], out: Path) -> Sources:
    """Return the earlier and the later photograph.

    Raises
    ------
    InputError
        One of them is a folder, or both are the same file or copies of it.
    """
    for path in photographs:
        if path.is_dir():
            raise InputError(f"{path} is a folder: name the earlier photograph, then the later one")
    sources = find_sources(photographs, out=out, record=RECORD_FILE)
    if len(sources.photographs) == len(BOTH):
        _check_apart(*(source.path for source in sources.photographs))
    return replace(
        sources,
        photographs=tuple(
            replace(source, marked=f"{when}-marked.jpg")
            for source, when in zip(sources.photographs, BOTH, strict=False)
        ),
    )


def _check_apart(earlier: Path, later: Path) -> None:
    """Refuse a photograph and its copy, which tell of no change whatever became of the piece."""
    alike = False
    with suppress(OSError):  # what cannot be read is told when it is graded
        alike = filecmp.cmp(earlier, later, shallow=False)
    if alike:
        raise InputError(f"{later} is a copy of {earlier}: name the photograph that was taken later")


def compare_photographs(
    sources: Sources, task: Task, folder: ResultFolder, reports: Reports, *, same_setup: bool = False
) -> CameBack | None:
    """Grade both photographs, compare them as corrected on the page, and write their pictures.

    With `same_setup` light, camera, distance and focus were the same. None where one cannot be graded.
    """
    outcome = grade_each(sources, task, folder, reports, draw=_marked_and_kept)
    if len(outcome.castings) != 2:  # noqa: PLR2004
        return None
    basis, shown = Basis(task.settings, task.request.whole), outcome.told
    earlier, later = (
        put_right(casting, source.path, basis)
        for casting, source in zip(outcome.castings, sources.photographs, strict=True)
    )
    for put, codes, source in zip((earlier, later), shown, sources.photographs, strict=True):
        if put.words:
            folder.write_bytes(source.marked, marked_jpeg(codes, put.casting))
    left_out = earlier.no_void, later.no_void
    found = compare(earlier.casting, later.casting, left_out=left_out, same_setup=same_setup)
    found = _doubted(found, earlier, later)
    folder.write_bytes(PICTURE_FILE, regrowth_jpeg((shown[0], shown[1]), earlier.casting, later.casting, found))
    remarks = (*earlier.remarks, *later.remarks, *[SAME_SETUP] * same_setup)
    return CameBack(
        task.version,
        task.request,
        task.settings,
        outcome.run.blank_sha256,
        earlier=earlier.casting,
        later=later.casting,
        regrowth=found,
        remarks=remarks,
        pictures=folder.written,
        same_setup=same_setup,
    )


def _doubted(found: Regrowth, *puts: PutRight) -> Regrowth:
    """Return a comparison that says of no piece that it is unchanged while changes made to it do not count."""
    photos = " and ".join(put.casting.photo for put in puts if put.missing)
    if not photos or found.verdict != "did not change":
        return found
    reason = f"what was corrected on the page in {photos} does not count: correct it anew, or grade it as it was then"
    return replace(found, verdict="cannot be told", reason=reason)


def _marked_and_kept(codes: Codes, casting: Casting) -> Picture:
    """Draw the marked picture; the photograph is told."""
    return Picture(marked_jpeg(codes, casting), codes)
