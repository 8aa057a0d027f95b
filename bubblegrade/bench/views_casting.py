"""One casting: its photograph under a lens, its numbers, and the corrections."""

from __future__ import annotations

import json
from typing import Any, Final
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from bubblegrade.bench.castings import Kept
from bubblegrade.bench.forms import FieldError
from bubblegrade.bench.pictures import LAYERS, Held, sides_px
from bubblegrade.bench.shown import aside_kinds, finds_record, headline, legend, numbers, step_words, zone_rows
from bubblegrade.bench.state import Bench, Page, bench_of, drawn, limited_body, part, who_of
from bubblegrade.bench.views_drawings import PLOT
from bubblegrade.errors import InputError, PartError
from bubblegrade.results.corrected_table import corrected_csv
from bubblegrade.results.corrections import change_from
from bubblegrade.show.plot_distribution import sizes_in_classes
from bubblegrade.show.report.castings import distribution
from bubblegrade.voids.table import KINDS

# What the parts of a change are called in the forms, where it is not the same.
FIELDS: Final = {"x_px": "x", "y_px": "y", "diameter_px": "diameter", "span": "corners", "long_mm": "distance"}
A_YEAR: Final = {"cache-control": "private, max-age=31536000, immutable"}  # a tile's address holds its hash


def casting(request: Request) -> Response:
    """Show a casting."""
    bench, name = bench_of(request), request.path_params["name"]
    path = bench.folder.photograph(name)
    kept = bench.castings.of(name)
    held = bench.pictures.of(path, kept.card if kept else None)
    return drawn(
        request,
        "casting.html",
        name=name,
        url=f"/casting/{quote(name, safe='')}",
        picture=picture_facts(held, kept),
        kept=kept,
        kinds=KINDS,
        **(_facts(kept, name) if kept else {}),
    )


def finds(request: Request) -> Response:
    """Tell what was found."""
    name = request.path_params["name"]
    return _answer(_graded(bench_of(request), name), name)


async def change(request: Request) -> Response:
    """Take a step, and tell what the casting is then."""
    bench, name = bench_of(request), request.path_params["name"]
    try:
        words = json.loads(await limited_body(request))
        seen, did = int(words.pop("seen")), change_from(words)
    except (LookupError, TypeError, ValueError, AttributeError, RecursionError) as error:
        raise InputError("what came is no change: load the page again") from error
    try:
        kept = await run_in_threadpool(lambda: bench.castings.change(name, did, who=who_of(request), seen=seen))
    except PartError as error:
        raise FieldError(str(error), *(FIELDS.get(part, part) for part in error.names)) from error
    return _answer(kept, name)


def tile(request: Request) -> Response:
    """Send a tile of the photograph."""
    bench, at = bench_of(request), request.path_params
    layer, _, squared = at["layer"].partition("-")
    if layer not in LAYERS:
        return Response(status_code=404)
    kept = bench.castings.of(at["name"]) if squared else None
    held = bench.pictures.of(bench.folder.photograph(at["name"]), kept.card if kept else None)
    data = held.tile(layer, at["zoom"], at["col"], at["row"])
    return Response(status_code=404) if data is None else Response(data, media_type="image/jpeg", headers=A_YEAR)


def small(request: Request) -> Response:
    """Send a small picture of the photograph."""
    bench = bench_of(request)
    held = bench.pictures.of(bench.folder.photograph(request.path_params["name"]))
    return Response(held.small, media_type="image/jpeg")


def sizes(request: Request) -> Response:
    """Send the plot of the sizes."""
    bench = bench_of(request)
    kept = _graded(bench, request.path_params["name"])
    with bench.drawings.drawing:
        plot = sizes_in_classes(distribution(kept.corrected.casting))
    return Response(plot.svg, media_type="image/svg+xml", headers=PLOT)


def table(request: Request) -> Response:
    """Send the table of all finds with what was corrected."""
    name = request.path_params["name"]
    kept = _graded(bench_of(request), name)
    file = quote(f"{name}-corrected.csv")
    return Response(
        corrected_csv(kept.corrected, kept.graded).encode("utf-8", errors="backslashreplace"),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f"attachment; filename*=utf-8''{file}"},
    )


def _graded(bench: Bench, name: str) -> Kept:
    kept = bench.castings.of(name)
    if kept is None:
        raise InputError(f"{name} is not graded yet: grade it on the tray")
    return kept


def _answer(kept: Kept, name: str) -> Response:
    facts = _facts(kept, name)
    parts = {"told": part("told.html", kept=kept, **facts), "legend": part("legend.html", **facts)}
    return JSONResponse({**finds_record(kept), **parts})


def _facts(kept: Kept, name: str) -> dict[str, Any]:
    """Return what the part of the page that follows corrections shows."""
    return {
        "headline": headline(kept.corrected.casting),
        "numbers": numbers(kept),
        "zones": zone_rows(kept),
        "steps": step_words(kept),
        "legend": legend(kept),
        "aside": aside_kinds(kept),
        "plot_url": f"/casting/{quote(name, safe='')}/sizes.svg?steps={len(kept.steps)}",
    }


def picture_facts(held: Held, kept: Kept | None) -> dict[str, Any]:
    """Return what the script needs to ask for tiles."""
    width, height = held.size_px
    return {
        "width": width,
        "height": height,
        "sides": sides_px(held.levels(LAYERS[0])),
        "key": held.photo.sha256[:12],
        "layers": {layer: f"{layer}-squared" if kept and kept.card else layer for layer in LAYERS},
    }


_ONE: Final = "/casting/{name}"
PAGE = Page(
    (
        Route(_ONE, casting, methods=["GET"]),
        Route(f"{_ONE}/finds", finds, methods=["GET"]),
        Route(f"{_ONE}/change", change, methods=["POST"]),
        Route(f"{_ONE}/tile/{{layer}}/{{key}}/{{zoom:int}}/{{col:int}}/{{row:int}}", tile, methods=["GET"]),
        Route(f"{_ONE}/small.jpg", small, methods=["GET"]),
        Route(f"{_ONE}/sizes.svg", sizes, methods=["GET"]),
        Route(f"{_ONE}/corrected.csv", table, methods=["GET"]),
    )
)
