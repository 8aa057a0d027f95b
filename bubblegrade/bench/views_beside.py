"""Two castings side by side, at the same scale, moved and zoomed together, with their numbers beside each other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from bubblegrade.bench.castings import Kept
from bubblegrade.bench.shown import headline, numbers
from bubblegrade.bench.state import Bench, Page, bench_of, drawn
from bubblegrade.bench.views_casting import picture_facts

SIDES: Final = ("left", "right")


@dataclass(frozen=True, eq=False)
class Seen:
    """One of the two."""

    side: str
    name: str
    picture: dict[str, Any]
    kept: Kept | None  # None where it is not graded

    @property
    def url(self) -> str:
        """The path of its page."""
        return f"/casting/{quote(self.name, safe='')}"

    @property
    def headline(self) -> str:
        """What was found, in a few words."""
        return headline(self.kept.corrected.casting) if self.kept else "not graded yet"

    @property
    def mm_per_px(self) -> float | None:
        """The photograph's scale; None without one."""
        scale = self.kept.corrected.casting.scale if self.kept else None
        return scale.mm_per_px if scale else None

    @property
    def plot_url(self) -> str:
        """Where its distribution of sizes is."""
        return f"{self.url}/sizes.svg?steps={len(self.kept.steps) if self.kept else 0}"


def beside(request: Request) -> Response:
    """Show two castings."""
    bench = bench_of(request)
    names = bench.folder.photographs
    chosen = {side: request.query_params.get(side, "") for side in SIDES}
    both = [_seen(bench, side, name) for side, name in chosen.items()] if all(chosen.values()) else []
    in_mm = bool(both) and all(seen.mm_per_px for seen in both)
    return drawn(
        request, "beside.html", names=names, chosen=chosen, both=both, in_mm=in_mm, said=_said(both), rows=_rows(both)
    )


def _seen(bench: Bench, side: str, name: str) -> Seen:
    path = bench.folder.photograph(name)
    kept = bench.castings.of(name)
    held = bench.pictures.of(path, kept.card if kept else None)
    return Seen(side, name, picture_facts(held, kept), kept)


def _said(both: list[Seen]) -> str:
    """Return by what the two are drawn at the same scale."""
    without = list(dict.fromkeys(seen.name for seen in both if not seen.mm_per_px))
    if not without:
        return "A millimetre is as long on both sides."
    lacks = "have no scale" if len(without) > 1 else "has no scale"
    return (
        f"{' and '.join(without)} {lacks}: a pixel of the photograph is as long on both sides, and "
        "sizes compare only if camera, distance and zoom were the same."
    )


def _rows(both: list[Seen]) -> list[tuple[str, str, str]]:
    """Return the numbers of both, as they are after corrections."""
    graded = [seen.kept for seen in both if seen.kept]
    if not both or len(graded) < len(both):
        return []
    left, right = (numbers(kept) for kept in graded)
    return [(one.name, one.corrected, other.corrected) for one, other in zip(left, right, strict=True)]


PAGE: Final = Page((Route("/beside", beside, methods=["GET"]),), label="Side by side", path="/beside")
