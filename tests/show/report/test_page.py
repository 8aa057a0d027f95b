"""A report is one file that escapes what comes from outside and leads nowhere."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from bubblegrade.show.report.page import Page, Photograph, Plot, Rows, Section, Spot, Words, page_html

NASTY = "<script>alert('x')</script> \"quoted\" & Grüße.jpg"
SVG = """<?xml version="1.0"?>
<svg xmlns="http://www.w3.org/2000/svg"><g id="fit"/><use href="#fit"/><rect clip-path="url(#fit)"/></svg>"""


def page(*blocks: Words | Rows | Plot | Photograph, **changes: object) -> Page:
    """Return a page with one section."""
    facts: dict[str, object] = {
        "title": "Voids", "verdict": "2 voids.", "sections": (Section("cup.jpg", tuple(blocks)),), "cautions": (),
        "version": "0.1.0",
    }  # fmt: skip
    return Page(**{**facts, **changes})  # type: ignore[arg-type]


class Outline(HTMLParser):
    """Collects tags with their attributes, and all text outside of style and script."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self._inside: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag in ("style", "script", "title"):
            self._inside.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if self._inside and self._inside[-1] == tag:
            self._inside.pop()

    def handle_data(self, data: str) -> None:
        if not self._inside and data.strip():
            self.words.append(" ".join(data.split()))


def test_text_from_outside_is_shown_and_never_run() -> None:
    blocks = (
        Words(NASTY),
        Rows(NASTY, (NASTY,), ((NASTY,),)),
        Photograph(b"jpeg", 4, 3, NASTY, (Spot(1, 1, 1, "size-0", NASTY),)),
    )
    text = page_html(page(*blocks, title=NASTY, verdict=NASTY, cautions=(NASTY,), sections=(Section(NASTY, blocks),)))
    found = Outline(text)
    assert sum(tag == "script" for tag, _ in found.tags) == 1  # our own
    assert NASTY in found.words
    (spot,) = (attrs for tag, attrs in found.tags if tag == "circle" and "data-says" in attrs)
    assert spot["data-says"] == NASTY


def test_the_third_size_is_told_from_what_is_unsure_by_a_second_circle_and_told_of_once() -> None:
    spots = tuple(Spot(9, 9, 5, look, look) for look in ("size-1", "size-2", "unsure"))
    legend = (("size-2", "0.5 to 1 mm: 1"), ("unsure", "unsure: 1"))
    found = Outline(page_html(page(Photograph(b"jpeg", 20, 20, "a cup", spots, legend=legend))))
    circles = [attrs for tag, attrs in found.tags if tag == "circle"]
    assert [attrs["class"] for attrs in circles if "data-says" in attrs] == ["size-1", "size-2", "unsure"]
    assert [attrs["class"] for attrs in circles] == [
        "size-1",
        "size-2",
        "size-2",
        "unsure",
        "size-2",
        "size-2",
        "unsure",
    ]


def test_nothing_leads_out_of_the_file() -> None:
    text = page_html(page(Plot(SVG, "a plot"), Photograph(b"jpeg", 4, 3, "a cup", ())))
    assert "Content-Security-Policy" in text
    assert "default-src 'none'" in text
    for address in re.findall(r"""(?:src|href|action)\s*=\s*["']([^"']*)""", text):
        assert address.startswith(("data:", "#"))
    assert not re.findall(r"(?<!w3\.org/)https?://(?!www\.w3\.org)", text)
    assert "@import" not in text
    assert "fetch(" not in text


def test_two_plots_keep_their_names_apart() -> None:
    text = page_html(page(Plot(SVG, "one"), Plot(SVG, "two")))
    names = re.findall(r'\bid="([^"]+)"', text)
    assert len(names) == len(set(names))
    assert 'href="#p2-fit"' in text
    assert "url(#p1-fit)" in text
    assert "<?xml" not in text


def test_headings_and_tables_are_told_to_a_screen_reader() -> None:
    found = Outline(
        page_html(page(Rows("Numbers", ("quantity", "value"), (("voids", "2"),)), Plot(SVG, "sizes by class")))
    )
    tags = [tag for tag, _ in found.tags]
    assert tags.count("h1") == 1
    assert tags.count("main") == 1
    assert tags.count("caption") == 1
    assert {"scope"} == {key for tag, attrs in found.tags if tag == "th" for key in attrs}
    assert any(attrs.get("aria-label") == "sizes by class" for _, attrs in found.tags)
    assert dict(found.tags)["html"] == {"lang": "en"}


def test_a_folded_table_opens_on_demand() -> None:
    found = Outline(page_html(page(Rows("All voids", ("number",), (("1",),), folded=True))))
    assert "All voids" in found.words
    assert {"details", "summary"} <= {tag for tag, _ in found.tags}


def test_the_same_page_gives_the_same_text() -> None:
    one, other = (page_html(page(Plot(SVG, "a"), Words("b"))) for _ in range(2))
    assert one == other


@pytest.mark.parametrize("weight", ["plain", "note", "alarm", "lead"])
def test_every_weight_of_words_has_a_style(weight: str) -> None:
    text = page_html(page(Words("x", weight)))
    assert f'class="{weight}"' in text
    assert weight == "plain" or f".{weight} {{" in text


@pytest.mark.parametrize("whole", [True, False])
def test_a_picture_that_phones_show_whole_has_no_least_width(*, whole: bool) -> None:
    text = page_html(page(Plot(SVG, "sizes", whole=whole)))
    assert ('<figure class="plot whole"' in text) is whole
    (ruled,) = re.findall(r"([^\n]*) svg \{ min-width", text)
    assert ruled == ".plot:not(.whole)"
