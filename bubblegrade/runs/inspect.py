"""Photographs of finished pieces, each graded once and held against the maker's limits."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Final

from bubblegrade.corrected.numbers import Basis
from bubblegrade.errors import InputError
from bubblegrade.grading_run import Casting, grade
from bubblegrade.inspection.batch import Piece, Side, decide
from bubblegrade.inspection.inspected import Inspected, mould_told
from bubblegrade.inspection.judging import judge
from bubblegrade.inspection.limits import Limits
from bubblegrade.inspection.reference import carried_over
from bubblegrade.inspection.seen import Seen, seen
from bubblegrade.photo.light import Codes, grey_light
from bubblegrade.photo.reading import is_picture
from bubblegrade.quality.sampling import SamplingPlan
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.inspect import Inspection
from bubblegrade.results.run import NotGraded
from bubblegrade.runs.inputs import Source, Sources
from bubblegrade.runs.many import Reports, grade_each
from bubblegrade.runs.one import Picture, Task, made_ready
from bubblegrade.runs.pieces import Shown, sides_lacking
from bubblegrade.runs.put_right import put_right
from bubblegrade.show.inspect_picture import inspect_jpeg

ENDING: Final = "-inspected.jpg"  # follows a photograph's name without its suffix


@dataclass(frozen=True)
class Wanted:
    """What to hold the pieces against, and how photographs are joined to pieces."""

    limits: Limits
    shown: Callable[[Source], Shown]  # which piece and side a photograph shows
    plan: SamplingPlan | None = None  # for the batch that the pieces are drawn from


def inspect_all(sources: Sources, task: Task, wanted: Wanted, folder: ResultFolder, reports: Reports) -> Inspection:
    """Grade and judge the photographs, and write their pictures into `folder`, without any table.

    Raises
    ------
    InputError
        Limits are in mm and the request gives no scale, there are more pieces than in their batch, or the
        photograph of the bare light cannot be read.
    OutputError
        A picture cannot be written.
    """
    limits = wanted.limits
    if limits.in_mm and not task.request.is_scaled:
        raise InputError(
            f"the limits {limits.name} are in mm, which need a scale: add --card, --disc, --mm-per-px, --width or "
            "--span, or give the limits in px"
        )
    gone = [Source(Path(one.photo), one.photo, "") for one in sources.faults if is_picture(Path(one.photo))]
    shown = {source.name: wanted.shown(source) for source in (*sources.photographs, *gone)}
    count = len({each.piece for each in shown.values()})
    if wanted.plan is not None and count > wanted.plan.lot:
        odd = ", ".join(sides_lacking(shown.values()))
        raise InputError(
            f"{count} pieces are more than the batch of {wanted.plan.lot} that they are drawn from"
            f"{f': check the names of {odd}, which lack a side that others have' if odd else ''}"
        )
    outcome = grade_each(sources, task, folder, reports, draw=partial(_judged, limits=limits))
    inspected, copies = without_copies(
        Inspected(casting, shown[casting.photo].piece, shown[casting.photo].side, judgement)
        for casting, judgement in zip(outcome.castings, outcome.told, strict=True)
    )
    not_graded = (*outcome.run.not_graded, *copies)
    corrected, words, useless = _put_right(inspected, sources, task, limits)
    marks, settled = mould_told(corrected, limits)
    settled = tuple(_remarked(one, words.get(one.casting.photo, "")) for one in settled)
    _draw_again(sources, task, limits, folder, inspected, settled)
    pieces = pieces_of(settled, shown, (*not_graded, *useless))
    return Inspection(
        version=task.version,
        request=task.request,
        settings=task.settings,
        blank_sha256=outcome.run.blank_sha256,
        limits=limits,
        inspected=settled,
        pieces=pieces,
        mould_marks=marks,
        batch=None if wanted.plan is None else decide(wanted.plan, pieces),
        not_graded=not_graded,
        pictures=_pictures_left(folder, sources, copies),
    )


def with_reference(limits: Limits, path: Path, task: Task) -> Limits:
    """Return limits whose zones drawn on the reference photograph at `path` hold for every piece.

    Raises
    ------
    InputError
        The photograph cannot be read or graded, or the zones do not lie on its piece.
    """
    ready = made_ready(path, f"{path} (reference)", task)
    casting = grade(ready.photo, task.request, task.settings, scale=ready.scale, span_px=ready.span_px)
    return carried_over(limits, casting, seen_of(ready.shown, casting))


def _judged(codes: Codes, casting: Casting, limits: Limits) -> Picture:
    """Judge a piece and draw it; the judgement is told."""
    judgement = judge(casting, seen_of(codes, casting), limits)
    return Picture(inspect_jpeg(codes, casting, judgement, limits), judgement)


def seen_of(codes: Codes, casting: Casting) -> Seen:
    """Return where the piece, its judged part and its hardware lie.

    Raises
    ------
    PhotoError
        No outline was found.
    """
    return seen(casting, grey_light(codes))


def _put_right(
    inspected: Sequence[Inspected], sources: Sources, task: Task, limits: Limits
) -> tuple[tuple[Inspected, ...], dict[str, str], tuple[NotGraded, ...]]:
    """Return the photographs judged as corrected on the page, what to say of each, and changes that do not count.

    Of a piece whose changes do not count nobody knows what they would make of it: it has to be looked at.
    """
    basis = Basis(task.settings, task.request.whole)
    after, words, useless = [], {}, []
    of = {source.name: source for source in sources.photographs}
    for one in inspected:
        photo, source = one.casting.photo, of[one.casting.photo]
        put = put_right(one.casting, source.path, basis)
        if put.missing:
            useless.append(NotGraded(photo, f"{photo}: {put.missing}"))
        if put.words:
            words[photo] = put.words
            codes = made_ready(source.path, source.name, task).shown
            judgement = judge(put.casting, seen_of(codes, put.casting), limits)
            after.append(replace(one, casting=put.casting, judgement=judgement))
        else:
            after.append(one)
    return tuple(after), words, tuple(useless)


def _remarked(one: Inspected, words: str) -> Inspected:
    """Return a photograph with a remark more, where there is one."""
    if not words:
        return one
    return replace(one, judgement=replace(one.judgement, remarks=(words, *one.judgement.remarks)))


def _draw_again(
    sources: Sources,
    task: Task,
    limits: Limits,
    folder: ResultFolder,
    before: Sequence[Inspected],
    after: Sequence[Inspected],
) -> None:
    """Draw those pictures again whose judgement changed with corrections, or with what is known of the mould."""
    of = {source.name: source for source in sources.photographs}
    for one, settled in zip(before, after, strict=True):
        if settled is not one:
            source = of[one.casting.photo]
            codes = made_ready(source.path, source.name, task).shown
            folder.write_bytes(source.marked, inspect_jpeg(codes, settled.casting, settled.judgement, limits))


def without_copies(inspected: Iterable[Inspected]) -> tuple[list[Inspected], tuple[NotGraded, ...]]:
    """Return the photographs, each once, and those that are copies of another: they show no further piece or side."""
    first: dict[str, Inspected] = {}
    copies = []
    for one in inspected:
        known = first.setdefault(one.casting.sha256, one)
        if known is not one:
            photo = one.casting.photo
            reason = f"{photo} is a copy of {known.casting.photo}: photograph each piece and side, or leave it out"
            copies.append(NotGraded(photo, reason))
    return list(first.values()), tuple(copies)


def _pictures_left(folder: ResultFolder, sources: Sources, copies: Sequence[NotGraded]) -> tuple[str, ...]:
    """Take the pictures of copies away, whose verdicts count for no piece, and return the names of the others."""
    of = {source.name: source.marked for source in sources.photographs}
    away = {of[one.photo] for one in copies}
    folder.discard(away)
    return tuple(sorted(set(folder.written) - away))


def pieces_of(
    inspected: Sequence[Inspected], shown: Mapping[str, Shown], not_graded: Sequence[NotGraded]
) -> tuple[Piece, ...]:
    """Return the pieces in the order of their photographs, with what could not be judged and what is not shown."""
    pieces: dict[str, Piece] = {}
    for one in inspected:
        judgement = one.judgement
        side = Side(one.casting.photo, one.side, judgement.verdict, judgement.lines)
        piece = pieces.get(one.piece, Piece(one.piece, ()))
        pieces[one.piece] = replace(piece, sides=(*piece.sides, side))
    for lost in not_graded:
        if lost.photo in shown:
            name = shown[lost.photo].piece
            piece = pieces.get(name, Piece(name, ()))
            pieces[name] = replace(piece, missing=(*piece.missing, lost.reason))
    for name, words in sides_lacking(shown.values()).items():
        if name in pieces:
            pieces[name] = replace(pieces[name], missing=(*pieces[name].missing, words))
    return tuple(pieces.values())
