"""What a report is made of, and how it becomes one HTML file.

Nothing in it leads out of the file: pictures, plots, style and script are inside. Everything from outside, file names
above all, is escaped by the template.
"""

from __future__ import annotations

import base64
import re
from dataclasses import dataclass
from functools import cache
from typing import ClassVar, Final

from jinja2 import Environment, PackageLoader, StrictUndefined, Template
from markupsafe import Markup

ID: Final = re.compile(r'\bid="([^"]+)"')
REFERENCE: Final = re.compile(r'(url\(#|href="#)([^)"]+)')


@dataclass(frozen=True)
class Words:
    """A paragraph; `weight` is plain, note, alarm or lead."""

    text: str
    weight: str = "plain"
    kind: ClassVar[str] = "words"


@dataclass(frozen=True)
class Rows:
    """A table; with `folded` it opens on demand."""

    caption: str
    headings: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]
    folded: bool = False
    kind: ClassVar[str] = "rows"


@dataclass(frozen=True)
class Plot:
    """A drawn picture as SVG, and the same in words."""

    svg: str
    alt: str
    whole: bool = False  # whether it is small enough to be read whole on a phone, without scrolling
    kind: ClassVar[str] = "plot"


@dataclass(frozen=True)
class Spot:
    """A mark on a photograph that says something when the pointer comes to it."""

    x: float  # px of the photograph as shown
    y: float
    radius: float
    look: str  # name of its class in the style: size-0 to size-3, unsure, aside
    says: str


@dataclass(frozen=True)
class Photograph:
    """A photograph with its marks; borders are closed lines of x, y."""

    jpeg: bytes
    width: int
    height: int
    alt: str
    spots: tuple[Spot, ...]
    borders: tuple[tuple[tuple[float, float], ...], ...] = ()
    legend: tuple[tuple[str, str], ...] = ()  # look, words
    kind: ClassVar[str] = "photograph"

    @property
    def source(self) -> str:
        """The picture as a data address."""
        return f"data:image/jpeg;base64,{base64.b64encode(self.jpeg).decode('ascii')}"

    def line(self, border: tuple[tuple[float, float], ...]) -> str:
        """Return a border as the points of a polygon."""
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in border)


Block = Words | Rows | Plot | Photograph


@dataclass(frozen=True)
class Section:
    """A heading and what stands below it."""

    heading: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Page:
    """A whole report."""

    title: str
    verdict: str
    sections: tuple[Section, ...]
    cautions: tuple[str, ...]
    version: str


def page_html(page: Page) -> str:
    """Return a report as HTML text; the same page gives the same text."""
    return _template().render(page=page, svg=_Plots())


@cache
def _template() -> Template:
    loader = PackageLoader("bubblegrade.show.report", "")
    held = Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    return held.get_template("report.html")


class _Plots:
    """Puts SVG into the page, each with names of its own, since several share one page."""

    def __init__(self) -> None:
        self.count = 0

    def __call__(self, plot: Plot) -> Markup:
        """Return a plot's SVG without its XML head, its names made unlike those of the others."""
        self.count += 1
        begin = plot.svg.index("<svg")
        own = f"p{self.count}-"
        text = ID.sub(rf'id="{own}\1"', plot.svg[begin:])
        text = REFERENCE.sub(rf"\g<1>{own}\g<2>", text)
        # The plot is drawn by our own code; nothing in it comes from outside unescaped.
        return Markup(text)  # noqa: S704
