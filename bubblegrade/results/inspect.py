"""Inspected pieces on disk: inspect.csv, inspect.json and the schema that describes every field of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

from bubblegrade.grading_run import Casting, Request
from bubblegrade.inspection.batch import BatchDecision, Piece
from bubblegrade.inspection.inspected import Inspected
from bubblegrade.inspection.limits import Limits, Zone
from bubblegrade.inspection.mould import MouldMark
from bubblegrade.inspection.verdicts import Fault, Verdict, ZoneSummary
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.run import NotGraded, asked_record
from bubblegrade.results.run_json import to_json
from bubblegrade.results.tables import csv_text
from bubblegrade.settings import Settings

RECORD_FILE: Final = "inspect.json"
TABLE_FILE: Final = "inspect.csv"
FORMAT: Final = 2  # of inspect.json; grows when a field goes or changes its meaning
COLUMNS: Final = (
    *("piece", "piece_verdict", "photo", "side", "photo_verdict", "zone", "rule", "verdict", "reason"),
    *("x_px", "y_px", "diameter_px", "diameter_mm", "finds", "sha256"),
)

Part = dict[str, Any]


@dataclass(frozen=True, eq=False)
class Inspection:
    """What was asked for, and what came out."""

    version: str  # of bubblegrade
    request: Request
    settings: Settings
    blank_sha256: str | None  # of the photograph of the bare light
    limits: Limits
    inspected: tuple[Inspected, ...]
    pieces: tuple[Piece, ...]
    mould_marks: tuple[MouldMark, ...]
    batch: BatchDecision | None
    not_graded: tuple[NotGraded, ...]
    pictures: tuple[str, ...] = ()  # files written beside the table


def write_inspection(folder: ResultFolder, found: Inspection) -> str:
    """Write the table and the record; return the record's text."""
    folder.write_text(TABLE_FILE, csv_text(COLUMNS, _rows(found)))
    text = inspect_json(found, files=(TABLE_FILE, RECORD_FILE, *found.pictures))
    folder.write_text(RECORD_FILE, text)
    return text


def inspect_json(found: Inspection, *, files: Sequence[str] = ()) -> str:
    """Return inspected pieces as JSON text; the schema beside this module describes every field."""
    return to_json(
        {
            "format": FORMAT,
            "version": found.version,
            **asked_record(found.request, found.settings, blank_sha256=found.blank_sha256),
            "limits": _limits(found.limits),
            "pieces": [
                {
                    "piece": piece.name,
                    "verdict": piece.verdict,
                    "photos": [side.photo for side in piece.sides],
                    "missing": piece.missing,
                }
                for piece in found.pieces
            ],
            "photographs": [_photograph(one, found.limits) for one in found.inspected],
            "mould_marks": found.mould_marks,
            "batch": None if found.batch is None else _batch(found.batch),
            "not_graded": found.not_graded,
            "files": sorted(set(files)),
        }
    )


def _limits(limits: Limits) -> Part:
    return {**asdict(limits), "zones": [_zone(zone) for zone in limits.zones]}


def _zone(zone: Zone) -> Part:
    return {"zone": zone.name, "shape": zone.shape.word, **asdict(zone.allowed)}


def _photograph(one: Inspected, limits: Limits) -> Part:
    casting, judgement = one.casting, one.judgement
    frame = judgement.frame
    borders = {zone.zone: zone.border_px for zone in judgement.zones}
    return {
        "photo": casting.photo,
        "sha256": casting.sha256,
        "piece": one.piece,
        "side": one.side,
        "verdict": judgement.verdict,
        "mm_per_px": casting.void_scale.mm_per_px if casting.void_scale else None,
        "lie": {
            "head_by": judgement.lie.head_by,
            "belly_by": judgement.lie.belly_by,
            "ways_tried": len(judgement.lie.frames),
            "mirrored": None if frame is None else frame.mirrored,
            "length_px": None if frame is None else frame.length_px,
            "width_px": None if frame is None else frame.width_px,
        },
        "faults": [_fault(fault, casting) for fault in judgement.faults],
        "zones": [_summary(zone, casting) for zone in judgement.zones],
        "borders": [
            {"zone": zone.name, "lines": [_line(line) for line in borders.get(zone.name, ())]} for zone in limits.zones
        ],
        "remarks": judgement.remarks,
        "warnings": casting.warnings,
    }


def _line(points: Any) -> Part:
    """Return points (N, 2) as two columns."""
    return {"x_px": points[:, 0], "y_px": points[:, 1]}


def _fault(fault: Fault, casting: Casting) -> Part:
    return {
        "verdict": fault.verdict,
        "zone": fault.zone,
        "rule": fault.rule,
        "reason": fault.reason,
        **_line(fault.places_px),
        "diameter_px": fault.diameters_px,
        "diameter_mm": fault.diameters_px * casting.void_scale.mm_per_px if casting.void_scale else [],
    }


def _summary(zone: ZoneSummary, casting: Casting) -> Part:
    mm = casting.void_scale.mm_per_px if casting.void_scale else float("nan")
    return {
        "zone": zone.zone,
        "void_count": zone.count,
        "largest_px": zone.largest_px,
        "largest_mm": zone.largest_px * mm,
        "cover_share": zone.cover_share,
        "cover_share_err": zone.cover_err,
        "area_px": zone.area_px,
        "unjudged_share": zone.unjudged_share,
        "unseen_px": zone.unseen_px,
        "unseen_mm": zone.unseen_px * mm,
    }


def _batch(batch: BatchDecision) -> Part:
    plan = batch.plan
    return {
        "lot": plan.lot,
        "draw": plan.draw,
        "accept": plan.accept,
        "code_letter": plan.letter,
        "all_drawn": plan.all_drawn,
        "inspected": batch.inspected,
        "failed": batch.failed,
        "to_look_at_again": batch.open_,
        "verdict": batch.verdict,
        "reason": batch.reason,
        "curve": {
            "failing_share": [share for share, _ in batch.curve],
            "accepted_share": [accepted for _, accepted in batch.curve],
        },
        "one_in_ten_accepted_at_share": batch.rules_out_share,
        "promise": batch.promise,
    }


def _rows(found: Inspection) -> Iterator[Part]:
    """Give the rows of the table: one a fault, one for a photograph without any."""
    verdicts: dict[str, Verdict] = {piece.name: piece.verdict for piece in found.pieces}
    for one in found.inspected:
        casting, judgement = one.casting, one.judgement
        start = {
            "piece": one.piece,
            "piece_verdict": verdicts[one.piece],
            "photo": casting.photo,
            "side": one.side,
            "photo_verdict": judgement.verdict,
            "sha256": casting.sha256,
        }
        if not judgement.faults:
            yield start
        for fault in judgement.faults:
            yield {**start, **_fault_cells(fault, casting)}


def _fault_cells(fault: Fault, casting: Casting) -> Part:
    cells: Part = {"zone": fault.zone, "rule": fault.rule, "verdict": fault.verdict, "reason": fault.reason,
                   "finds": len(fault.places_px)}  # fmt: skip
    if not len(fault.places_px):
        return cells
    diameter = float(fault.diameters_px[0])
    mm = diameter * casting.void_scale.mm_per_px if casting.void_scale else None
    x, y = map(float, fault.places_px[0])
    return {**cells, "x_px": x, "y_px": y, "diameter_px": diameter, "diameter_mm": mm}
