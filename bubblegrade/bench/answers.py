"""An answer on a page: the report of the same question, its words and tables as they are, its plots by address."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bubblegrade.bench.drawings import JPEG, SVG
from bubblegrade.bench.forms import fault_record
from bubblegrade.bench.labels import said_here
from bubblegrade.bench.state import Bench, part
from bubblegrade.errors import InputError
from bubblegrade.show.report.page import Page, Photograph, Plot


def answer(bench: Bench, report: Callable[[], Page]) -> str:
    """Return what `report` makes, as a part of a page."""
    with bench.drawings.drawing:
        page = report()

    def address(block: Plot | Photograph) -> str:
        if isinstance(block, Plot):
            return bench.drawings.keep(block.svg.encode("utf-8"), SVG)
        return bench.drawings.keep(block.jpeg, JPEG)

    return part("answer.html", page=page, address=address, said_here=said_here)


def no_answer(error: InputError) -> dict[str, Any]:
    """Return why what is kept has no answer; kept it is all the same."""
    return {"answer": "", **fault_record(error)}
