"""The report of inspected pieces: each verdict with its reasons, pictures with their zones, mould and batch."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import cv2
import numpy as np
from rich.console import Console

from bubblegrade.inspection.batch import BatchDecision, Piece
from bubblegrade.inspection.inspected import Inspected
from bubblegrade.inspection.mould import MouldMark
from bubblegrade.inspection.verdicts import Verdict
from bubblegrade.show import inspect_tables
from bubblegrade.show.report.castings import QUALITY, WIDEST_PX
from bubblegrade.show.report.page import Block, Page, Photograph, Rows, Section, Words
from bubblegrade.units import count_of

WEIGHTS = {Verdict.FAIL: "alarm", Verdict.AGAIN: "lead", Verdict.PASS: "plain"}


def inspected_page(
    pieces: Sequence[Piece],
    inspected: Sequence[Inspected],
    pictures: Mapping[str, bytes],
    *,
    marks: Sequence[MouldMark],
    batch: BatchDecision | None,
    limits: str,
    version: str,
) -> Page:
    """Return the report of inspected pieces; `pictures` are the drawn ones by photograph, `limits` the limits' name."""
    remarks = {one.casting.photo: one.judgement.remarks for one in inspected}
    rows = tuple(
        (piece.name, str(piece.verdict), str(sum(len(side.reasons) for side in piece.sides))) for piece in pieces
    )
    sections = [Section("All pieces", (Rows("Pieces", ("piece", "verdict", "reasons"), rows),))]
    if batch is not None or marks:
        sections.append(Section("Mould and batch", _said(marks, batch)))
    sections += [Section(piece.name, _blocks(piece, remarks, pictures)) for piece in pieces]
    return Page(f"Pieces held to {limits}", _verdict(pieces, batch), tuple(sections), cautions=(), version=version)


def _verdict(pieces: Sequence[Piece], batch: BatchDecision | None) -> str:
    counts = [(verdict, sum(piece.verdict is verdict for piece in pieces)) for verdict in inspect_tables.ORDER]
    said = ", ".join(f"{count} {verdict}" for verdict, count in counts if count)
    decided = "" if batch is None else f" Batch of {batch.plan.lot}: {batch.verdict}."
    return f"{count_of(len(pieces), 'piece')} inspected: {said}.{decided}"


def _blocks(piece: Piece, remarks: Mapping[str, Sequence[str]], pictures: Mapping[str, bytes]) -> tuple[Block, ...]:
    """Return one piece's part."""
    blocks: list[Block] = [Words(str(piece.verdict), WEIGHTS[piece.verdict])]
    blocks += [Words(reason) for reason in piece.missing]
    for side in piece.sides:
        blocks += [Words(line) for line in (*side.reasons, *remarks.get(side.photo, ()))]
        if side.photo in pictures:
            blocks.append(_photograph(pictures[side.photo], side.photo, side.verdict))
    return tuple(blocks)


def _photograph(data: bytes, photo: str, verdict: Verdict) -> Photograph:
    """Return a drawn picture, made small enough to be passed on."""
    picture = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    assert picture is not None  # noqa: S101 - it was encoded a moment ago
    zoom = min(1.0, WIDEST_PX / picture.shape[1])
    small = picture if zoom == 1.0 else cv2.resize(picture, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA)
    _, held = cv2.imencode(".jpg", small, [int(cv2.IMWRITE_JPEG_QUALITY), QUALITY])
    alt = f"Photograph {photo}, {verdict}, with its zones and what broke a limit."
    return Photograph(held.tobytes(), small.shape[1], small.shape[0], alt, ())


def _said(marks: Sequence[MouldMark], batch: BatchDecision | None) -> tuple[Words, ...]:
    """Return what the terminal says of the mould and the batch."""
    paper = Console(width=10_000, color_system=None, force_terminal=False)
    with paper.capture() as held:
        inspect_tables.show_mould(marks, paper)
        if batch is not None:
            inspect_tables.show_batch(batch, paper)
    return tuple(Words(line) for line in held.get().splitlines() if line.strip())
