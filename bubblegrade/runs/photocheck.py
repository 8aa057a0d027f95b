"""Photographs checked one after the other, each with a picture of where its faults lie."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import cv2

from bubblegrade.errors import InputError, PhotoError
from bubblegrade.fitness.check import Checked
from bubblegrade.fitness.checks import Said, check_photo
from bubblegrade.photo.reading import read_photo
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.photocheck import NotRead, PhotoCheck
from bubblegrade.runs.inputs import Source, Sources
from bubblegrade.show.fitness_picture import fitness_jpeg

ENDING: Final = "-checked.jpg"  # follows a photograph's name without its suffix


def check_each(
    sources: Sources, said: Said, version: str, folder: ResultFolder | None, fault: Callable[[str], None]
) -> PhotoCheck:
    """Check the photographs and write pictures of those with a fault into `folder`, where there is one.

    Raises
    ------
    OutputError
        A picture cannot be written.
    """
    checked: list[Checked] = []
    not_read = [NotRead(unread.photo, unread.reason) for unread in sources.faults]
    for unread in sources.faults:
        fault(unread.reason)
    for source in sources.photographs:
        try:
            checked.append(_checked(source, said, folder))
        except InputError as error:
            fault(str(error))
            not_read.append(NotRead(source.name, str(error)))
    pictures = () if folder is None else folder.written
    return PhotoCheck(version, said, tuple(checked), tuple(not_read), pictures)


def _checked(source: Source, said: Said, folder: ResultFolder | None) -> Checked:
    """Check one photograph and write its picture."""
    try:
        photo = read_photo(source.path, name=source.name)
        fitness = check_photo(photo, said)
    except (MemoryError, cv2.error) as error:
        if isinstance(error, cv2.error) and error.code != cv2.Error.StsNoMem:
            raise
        raise PhotoError(f"{source.name} needs more memory than there is: send a smaller picture") from error
    except PhotoError:
        raise
    except InputError as error:
        raise PhotoError(f"{source.name}: {error}") from error
    picture = None if folder is None else fitness_jpeg(photo.shown, fitness)
    if folder is not None and picture is not None:
        folder.write_bytes(source.marked, picture)
    return Checked(photo.name, photo.sha256, photo.shape_px, fitness)
