"""Inspected pieces on the terminal: a table of pieces, the mould's marks and what follows for the batch."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Final

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from bubblegrade.inspection.batch import BatchDecision, Piece
from bubblegrade.inspection.inspected import Inspected
from bubblegrade.inspection.mould import LEAST_PIECES, MouldMark
from bubblegrade.inspection.verdicts import Verdict
from bubblegrade.show.tables import print_table
from bubblegrade.show.words import percent

STYLES: Final = {Verdict.PASS: "green", Verdict.AGAIN: "yellow", Verdict.FAIL: "bold red"}
ORDER: Final = (Verdict.FAIL, Verdict.AGAIN, Verdict.PASS)
ONE_PIECE_MARKS: Final = 3  # places that repeat on just the same pieces, from which these may be one piece
NAMED: Final = 3  # pieces named in a line, before the rest are counted


def show_pieces(pieces: Sequence[Piece], inspected: Sequence[Inspected], console: Console) -> None:
    """Print each piece's verdict with its reasons and their places, then how many there are of each."""
    remarks = {one.casting.photo: one.judgement.remarks for one in inspected}
    table = Table(box=box.SIMPLE_HEAD if console.is_terminal else None, pad_edge=False, show_edge=False)
    for name in ("piece", "verdict", "photo", "why"):
        table.add_column(name, overflow="fold")
    for piece in pieces:
        lines = [
            (side.photo, line)
            for side in piece.sides
            for line in (*side.reasons, *remarks.get(side.photo, ())) or ("",)
        ]
        lines += [("", reason) for reason in piece.missing]
        for number, (photo, line) in enumerate(lines):
            first = number == 0
            verdict = Text(piece.verdict if first else "", STYLES[piece.verdict])
            table.add_row(Text(piece.name if first else ""), verdict, Text(photo), Text(line))
    print_table(table, console)
    counts = {verdict: sum(piece.verdict is verdict for piece in pieces) for verdict in ORDER}
    said = ", ".join(f"{count} {verdict}" for verdict, count in counts.items() if count)
    console.print(Text(f"{len(pieces)} inspected: {said}"))


def show_mould(marks: Sequence[MouldMark], console: Console) -> None:
    """Print the places that repeat from piece to piece."""
    for mark in marks:
        console.print(Text(
            f"mould: a mark {percent(mark.along)} along and {percent(mark.across)} across on {len(mark.pieces)} of "
            f"{mark.of} pieces{f' ({mark.side})' if mark.side else ''}, by chance {mark.by_chance:.1g}: look at the "
            "mould, not the resin"
        ))  # fmt: skip
    for (_, pieces), count in Counter((mark.side, mark.pieces) for mark in marks).items():
        if count >= ONE_PIECE_MARKS:
            left = len(pieces) - NAMED
            names = f"{', '.join(pieces[:NAMED])}{f' and {left} more' if left > 0 else ''}"
            console.print(Text(
                f"mould: {count} places repeat on just {names}, as voids do where one piece was photographed "
                "again: if it was, join its photographs with --pieces or --sheet"
            ))  # fmt: skip


def show_uncompared(inspected: Sequence[Inspected], console: Console) -> None:
    """Print on how many photographs marks of the mould were not looked for, where there are pieces enough for it."""
    if len({one.piece for one in inspected}) < LEAST_PIECES:
        return
    ways = [len(one.judgement.lie.frames) for one in inspected]
    for count, why in (
        (sum(way > 1 for way in ways), "whose head or belly is not told: say in the limits where it lies"),
        (sum(way == 0 for way in ways), "of pieces too round to tell how they lie: hold their pictures side by side"),
    ):
        if count:
            said = f"mould: marks that repeat were not looked for on {count} of {len(ways)} photographs, {why}"
            console.print(Text(said))


def show_batch(batch: BatchDecision, console: Console) -> None:
    """Print the decision on the batch, by which plan, and what it cannot promise."""
    plan = batch.plan
    drawn = "all of them" if plan.all_drawn else f"{plan.draw} drawn at random"
    console.print(Text(
        f"batch of {plan.lot}: {batch.verdict} ({batch.reason}); plan {plan.letter} after ISO 2859-1: {drawn}, "
        f"{plan.accept} may fail"
    ))  # fmt: skip
    console.print(Text(f"no promise: {batch.promise}"))
