"""Inspection on the bench: graded and corrected castings held against the limits that are kept in the folder."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from bubblegrade.bench.castings import Kept
from bubblegrade.bench.forms import Asked, FieldError, about
from bubblegrade.bench.state import Bench
from bubblegrade.bench.turns import Turn
from bubblegrade.errors import InputError, PhotoError, SettingsError
from bubblegrade.inspection.batch import decide
from bubblegrade.inspection.inspected import Inspected, mould_told
from bubblegrade.inspection.judging import judge
from bubblegrade.inspection.limits import Limits
from bubblegrade.inspection.reference import carried_over
from bubblegrade.photo.light import Codes
from bubblegrade.quality.sampling import SamplingPlan, sampling_plan
from bubblegrade.results.corrections import BENCH_FOLDER
from bubblegrade.results.run import NotGraded
from bubblegrade.runs.inputs import Source
from bubblegrade.runs.inspect import pieces_of, seen_of, without_copies
from bubblegrade.runs.limits_file import read_limits
from bubblegrade.runs.pieces import Shown, by_name, by_pattern, check_names, shown_by
from bubblegrade.show.inspect_picture import inspect_jpeg
from bubblegrade.show.report.inspected import inspected_page
from bubblegrade.show.report.page import Page
from bubblegrade.units import decimal

LIMITS: Final = "limits.toml"  # in FOLDER/bench, as `bubblegrade inspect --limits` reads it
ASKED: Final = "inspection.json"
UP: Final = "../"  # from the limits to the photographs
LEFT_OUT, YES = "left_out", "yes"  # of a photograph that is not inspected
FIRST_LIMIT: Final = "0.5mm"  # of a drawn zone, to be set by the maker


@dataclass(frozen=True, eq=False)
class Looked:
    """What was inspected, and the photographs that were not graded before."""

    report: Callable[[], Page]
    not_graded: tuple[str, ...]


def limits_text(bench: Bench) -> str:
    """Return the limits that are kept; empty where none are.

    Raises
    ------
    InputError
        The file cannot be read.
    """
    place = limits_place(bench)
    try:
        return place.read_text("utf-8-sig")
    except FileNotFoundError:
        return ""
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{place} cannot be read as text in UTF-8: mend it, or move it away") from error


def limits_place(bench: Bench) -> Path:
    """Return where the limits are kept."""
    return bench.folder.path / BENCH_FOLDER / LIMITS


def check_asked(asked: Asked, text: str) -> Limits:
    """Return the limits, all that is asked being usable.

    Raises
    ------
    InputError
        Something is not.
    """
    _plan(asked)
    _shown(asked)
    with about("limits"):
        return read_limits(text, name="these limits")


def inspection(bench: Bench, asked: Asked, text: str, turn: Turn) -> Looked:
    """Return the graded castings of the folder that are not left out, held against limits.

    Raises
    ------
    NotWantedError
        Nobody waits for it any more.
    InputError
        The limits, or what else is asked, cannot be used, or nothing is graded or chosen.
    """
    limits, shown_of, plan = check_asked(asked, text), _shown(asked), _plan(asked)
    out = left_out(asked)
    castings = [(name, bench.castings.of(name)) for name in bench.folder.photographs if name not in out]
    graded = [(name, kept) for name, kept in castings if kept is not None]
    if not graded:
        cure = "choose some of those that are graded" if out else "grade some on the tray"
        raise InputError(f"no graded casting is among those to inspect: {cure}")
    limits = _settled(bench, limits)
    sources = [Source(bench.folder.path / name, name, name) for name, _ in graded]
    if asked["pieces"]:
        with about("pieces"):
            check_names(asked["pieces"], sources)
    shown = {source.name: shown_of(source) for source in sources}
    looked = [_inspected(bench, kept, limits, shown[name]) for name, kept in turn.over("judged", graded)]
    apart, copies = without_copies(one for one in looked if isinstance(one, Inspected))
    marks, inspected = mould_told(apart, limits)
    pieces = pieces_of(inspected, shown, [*(one for one in looked if isinstance(one, NotGraded)), *copies])
    if plan is not None and len(pieces) > plan.lot:
        line = f"{len(pieces)} pieces are more than the batch of {plan.lot} that they are drawn from"
        raise FieldError(line, "batch")
    kept_of = dict(graded)
    pictures = {
        one.casting.photo: inspect_jpeg(
            _codes(bench, kept_of[one.casting.photo]), one.casting, one.judgement, limits
        )
        for one in turn.over("drawn", inspected)
    }  # fmt: skip

    def report() -> Page:
        batch = None if plan is None else decide(plan, pieces)
        return inspected_page(
            pieces, inspected, pictures, marks=marks, batch=batch, limits=limits.name, version=bench.version
        )

    return Looked(report, tuple(name for name, kept in castings if kept is None))


def left_out(asked: Asked) -> frozenset[str]:
    """Return the photographs that are not to be inspected; one that is new in the folder is not among them."""
    return frozenset(row.get("photo", "") for row in asked.rows if row.get(LEFT_OUT) == YES)


def zones_text(kept: Kept, name: str) -> tuple[str, str]:
    """Return what the limits need to say of the zones drawn on a casting: its line at the top, and the zones.

    Raises
    ------
    InputError
        No zone is drawn on it.
    """
    zones = [zone.zone for zone in kept.corrected.zones]
    if not zones:
        raise InputError(f"no zone is drawn on {name}: draw one on its page")
    parts = [
        f"[zones.{_quoted(zone.name)}]  # drawn on {_quoted(name)}; set its limits\n"
        'shape = "polygon"\n'
        f"corners_px = {json.dumps([list(corner) for corner in zone.corners])}\n"
        f'largest = "{FIRST_LIMIT}"\n'
        for zone in zones
    ]
    return f"reference = {_quoted(UP + name)}", "\n".join(parts)


def _settled(bench: Bench, limits: Limits) -> Limits:
    """Return limits with the zones of their reference carried over; it is a graded photograph of the folder."""
    if limits.reference is None:
        return limits
    name = limits.reference.removeprefix(UP)
    kept = bench.castings.of(name)
    if kept is None:
        raise SettingsError(f"{name}: the reference is not graded yet, grade it on the tray")
    casting = kept.corrected.casting
    return carried_over(limits, casting, seen_of(_codes(bench, kept), casting))


def _inspected(bench: Bench, kept: Kept, limits: Limits, shown: Shown) -> Inspected | NotGraded:
    """Return a casting with the judgement on it, or why there is none."""
    casting = kept.corrected.casting
    if limits.in_mm and casting.scale is None:
        reason = f"{casting.photo}: the limits are in mm and it has no scale, set it by two points on its page"
        return NotGraded(casting.photo, reason)
    try:
        judgement = judge(casting, seen_of(_codes(bench, kept), casting), limits)
    except PhotoError as error:
        return NotGraded(casting.photo, str(error))
    return Inspected(casting, shown.piece, shown.side, judgement)


def _codes(bench: Bench, kept: Kept) -> Codes:
    path = bench.folder.photograph(kept.graded.photo)
    return bench.pictures.of(path, kept.card).photo.shown


def _shown(asked: Asked) -> Callable[[Source], Shown]:
    """Return what tells which piece a photograph shows."""
    if not asked["pieces"]:
        return by_name
    with about("pieces"):
        pattern = by_pattern(asked["pieces"])
    return lambda source: shown_by(pattern, source)


def _plan(asked: Asked) -> SamplingPlan | None:
    """Return the sampling plan of the batch; None without one."""
    lot, limit = asked["batch"], asked["quality"]
    if bool(lot) != bool(limit):
        line = "a batch needs both: the number of its pieces, such as 120, and its quality limit, such as 1.0"
        raise FieldError(line, "quality" if lot else "batch")
    if not lot:
        return None
    try:
        pieces, percent = int(lot), decimal(limit)
    except ValueError:
        line = f"batch {lot[:20]!r} and quality limit {limit[:20]!r} are not both numbers: write 120 and 1.0"
        raise FieldError(line, "batch", "quality") from None
    with about("batch", "quality"):
        return sampling_plan(pieces, percent)


def _quoted(text: str) -> str:
    """Return text as TOML writes it."""
    return json.dumps(text, ensure_ascii=False)
