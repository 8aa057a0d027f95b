"""What a sentence says of a command's option, the page says of its own field."""

from __future__ import annotations

from pathlib import Path

import pytest

import bubblegrade.bench
from bubblegrade.bench.labels import LABELS, said_here

PAGES = "".join(page.read_text("utf-8") for page in Path(bubblegrade.bench.__file__).parent.rglob("*.html"))
SCALES = Path(bubblegrade.bench.__file__).with_name("asked.py").read_text("utf-8")


@pytest.mark.parametrize("option", ["--whole", "--plant", "--width", "--card", "--disc", "--mm-per-px", "--altitude"])
def test_a_cure_names_a_field_that_the_page_has(option: str) -> None:
    assert said_here(f"grade it with {option}") == f"grade it with '{LABELS[option]}'"
    assert LABELS[option] in PAGES + SCALES


def test_an_option_that_the_page_has_not_is_named_as_it_is() -> None:
    assert said_here("give --jobs") == "give --jobs"
