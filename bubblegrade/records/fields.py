"""What the log keeps of a casting: one table of fields that options, sheets, the file and all listings are made from.

A field holds the text as it was typed; a quantity also its number, in a column named after field and unit.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Final

from bubblegrade.errors import InputError
from bubblegrade.records import quantities
from bubblegrade.settings import nearest
from bubblegrade.units import duration_s, mass_g

Read = Callable[[str, str], float]


@dataclass(frozen=True)
class Kind:
    """How a field is read."""

    example: str
    unit: str = ""  # ends the name of the number's column; empty where there is no number
    shown: str = ""  # that unit in words
    read: Read | None = None  # from the text, and what it is called in an error
    choices: tuple[str, ...] = ()


TEXT: Final = Kind("TEXT")
DAY: Final = Kind("2026-03-01", "s", "UTC", quantities.day_s)
CLOCK: Final = Kind("08:15", "clock_s", "s after midnight", quantities.clock_s)
TIME: Final = Kind("20min", "s", "s", lambda text, what: duration_s(text, what=what))
MASS: Final = Kind("12.5g", "g", "g", lambda text, what: mass_g(text, what=what))
DIAL: Final = Kind("60psi", "kpa_gauge", "kPa gauge", quantities.dial_kpa_gauge)
WARMTH: Final = Kind("24C", "k", "K", quantities.temperature_k)
RATIO: Final = Kind("100:90", "b_per_a", "parts B to 1 of A", quantities.ratio_b_per_a)
DEVIATION: Final = Kind("1.5%", "share", "share of 1", quantities.deviation_share)
HUMIDITY: Final = Kind("45%", "share", "share of 1", quantities.humidity_share)
VACUUM: Final = Kind("29inHg", "kpa_below", "kPa below the air", quantities.vacuum_kpa_below)
ALTITUDE: Final = Kind("1500m", "m", "m", quantities.height_m)
BAROMETER: Final = Kind("1013hPa", "kpa", "kPa absolute", quantities.barometer_kpa)
LINE: Final = Kind("open|shut", choices=("open", "shut"))


@dataclass(frozen=True)
class Field:
    """One thing that is known of a casting, or not."""

    name: str
    words: str
    kind: Kind = TEXT
    chosen_by: bool = False  # castings are listed by it, and the file has an index for that

    @property
    def option(self) -> str:
        """The option that gives it."""
        return "--" + self.name.replace("_", "-")

    @property
    def number(self) -> str | None:
        """The column of its number."""
        return f"{self.name}_{self.kind.unit}" if self.kind.unit else None

    @property
    def columns(self) -> tuple[str, ...]:
        """Its columns in the file."""
        return (self.name, self.number) if self.number else (self.name,)

    def cells(self, typed: str) -> dict[str, str | float | None]:
        """Return what its columns hold for a text; nothing typed is unknown.

        Raises
        ------
        InputError
            It is not what the field takes.
        """
        text = storable(typed.strip())
        if not text:
            return dict.fromkeys(self.columns)
        what = self.name.replace("_", " ")
        if self.kind.choices and text.lower() not in self.kind.choices:
            raise InputError(f"{what} {text} is not known: write {' or '.join(self.kind.choices)}")
        if self.number is None or self.kind.read is None:
            return {self.name: text.lower() if self.kind.choices else text}
        return {self.name: text, self.number: self.kind.read(text, what)}


_By: Final = partial(Field, chosen_by=True)

FIELDS: Final = (
    Field("date", "Day of casting, with a time and zone if known.", DAY),
    _By("batch", "Name or number of the batch."),
    _By("recipe", "Name of the recipe."),
    _By("resin", "Resin, as its maker names it."),
    _By("lot", "Lot on the can."),
    Field("opened", "Day the can was opened.", DAY),
    Field("ratio", "Parts A to parts B by the recipe.", RATIO),
    Field("ratio_error", "How far B was off the ratio.", DEVIATION),
    Field("part_a", "Part A as weighed.", MASS),
    Field("part_b", "Part B as weighed.", MASS),
    Field("pigments", "Pigments, dyes, glitter and fillers, with amounts."),
    Field("resin_temperature", "Of the resin when mixed.", WARMTH),
    Field("room_temperature", "Of the room.", WARMTH),
    Field("mould_temperature", "Of the mould.", WARMTH),
    Field("humidity", "Relative humidity of the room.", HUMIDITY),
    Field("altitude", "Height of the place above the sea.", ALTITUDE),
    Field("barometer", "Air pressure read beside the pot.", BAROMETER),
    Field("mix_method", "How it was mixed: tool, cups, speed."),
    Field("mix_start", "When mixing began.", CLOCK),
    Field("mix_end", "When mixing ended.", CLOCK),
    Field("degas_vacuum", "Vacuum when degassing, as its dial shows.", VACUUM),
    Field("degas_time", "How long it was degassed.", TIME),
    Field("pour_start", "When pouring began.", CLOCK),
    Field("pour_end", "When pouring ended.", CLOCK),
    Field("pour_point", "Where the resin came in."),
    _By("mould", "Name or number of the mould."),
    Field("mould_material", "What the mould is made of."),
    Field("mould_pressure", "What the mould itself was cast at.", DIAL),
    Field("mould_state", "Baked, dried, damp, straight from the shelf."),
    Field("release_agent", "Release agent, and how long it dried."),
    Field("pot", "Which pot."),
    Field("time_to_pressure", "From the end of mixing to full pressure.", TIME),
    Field("gauge_start", "What the dial showed at first.", DIAL),
    Field("gauge_gel", "What the dial showed at gel.", DIAL),
    Field("gauge_release", "What the dial showed before release.", DIAL),
    Field("line", "Whether the line stayed open under pressure.", LINE),
    Field("gel_time", "From the end of mixing to gel.", TIME),
    Field("release_time", "From the end of mixing to letting the pressure off.", TIME),
    Field("demould_time", "From the end of mixing to demoulding.", TIME),
    Field("post_cure_time", "How long it was cured warm.", TIME),
    Field("post_cure_temperature", "How warm.", WARMTH),
    Field("part_weight", "Of the finished casting.", MASS),
    _By("operator", "Who cast it."),
    Field("remarks", "Anything else."),
)
BY_NAME: Final[Mapping[str, Field]] = {field.name: field for field in FIELDS}


def field_named(name: str) -> Field:
    """Return a field by its name, written with blanks, dashes or underscores.

    >>> field_named("Gauge gel").number
    'gauge_gel_kpa_gauge'

    Raises
    ------
    InputError
        There is none of that name.
    """
    plain = plain_name(name)
    if plain not in BY_NAME:
        raise InputError(f"{name or 'a column without a name'} is no field of the log: {nearest(plain, list(BY_NAME))}")
    return BY_NAME[plain]


def plain_name(name: str) -> str:
    """Return a name as the file has it."""
    return "_".join(name.lower().replace("-", " ").replace("_", " ").split())


def cells_of(typed: Mapping[str, str]) -> dict[str, str | float | None]:
    """Return the columns for what was typed, by field; errors are those of the fields."""
    cells: dict[str, str | float | None] = {}
    for name, text in typed.items():
        cells |= field_named(name).cells(text)
    return cells


def storable(text: str) -> str:
    r"""Return a text as UTF-8 can hold it; bytes that a terminal gave and that are no text become escapes.

    >>> storable("Kl\udce4r")
    'Kl\\udce4r'
    """
    return text.encode("utf-8", errors="backslashreplace").decode("utf-8")


def every_column() -> list[str]:
    """Return all columns of the fields, in their order."""
    return [column for field in FIELDS for column in field.columns]
