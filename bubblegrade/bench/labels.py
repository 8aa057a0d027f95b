"""The options of the commands, where a sentence names one, in the labels of this page."""

from __future__ import annotations

import re
from typing import Final

LABELS: Final = {
    "--again": "Second photograph of it",
    "--allowed": "Drop allowed",
    "--altitude": "Altitude",
    "--barometer": "or barometer",
    "--base": "Limits from the first",
    "--blank": "Bare backlight",
    "--camera-height": "Lens above the light",
    "--card": "the printed scale card under it",
    "--class": "Its class",
    "--disc": "a coin or disc beside it",
    "--graduation": "From mark to mark",
    "--lens": "Lens",
    "--mm-per-px": "millimetres per pixel",
    "--per": "Voids counted in",
    "--pieces": "How names tell the piece",
    "--plant": "measure the smallest countable size by planting voids",
    "--printed": "Check length as printed",
    "--range": "The dial's range",
    "--release": "First reading to letting off",
    "--settled": "Settled before the first reading",
    "--shows": "Gauge",
    "--since": "Cast since",
    "--span": "Points",
    "--strict": "refuse what is unfit to measure",
    "--thickness": "Thickness",
    "--until": "until",
    "--whole": "judge the whole lit frame",
    "--width": "the casting's widest span",
}
_OPTION: Final = re.compile(r"--[a-z][a-z-]*[a-z]")


def said_here(line: str) -> str:
    """Return a sentence with the page's labels for the options that it names.

    >>> said_here("--allowed sets another")
    "'Drop allowed' sets another"
    """
    return _OPTION.sub(lambda found: f"'{LABELS[found[0]]}'" if found[0] in LABELS else found[0], line)
