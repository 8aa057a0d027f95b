"""The file of a maker's acceptance limits: TOML in, a `Limits` out, every fault one line."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np

from bubblegrade.errors import SettingsError, UnitError
from bubblegrade.inspection.limits import BELLY_RULES, HEAD_RULES, LEAST_CLUSTER, UNSURE, Allowed, Length, Limits, Zone
from bubblegrade.inspection.shapes import AroundHardware, Box, Everywhere, Oval, Polygon, Shape, Span, crosses_itself
from bubblegrade.runs.text_file import text_of
from bubblegrade.settings import nearest
from bubblegrade.units import decimal, length_mm

Values = Mapping[str, Any]
CURE: Final = 'write lines such as largest = "0.5mm"'
OPPOSITES: Final = (("thick end", "thin end"), ("round side", "flat side"), ("left", "right"), ("up", "down"))
LEAST_CORNERS: Final = 3


def read_limits_file(path: Path) -> Limits:
    """Return the limits in a TOML file.

    Raises
    ------
    SettingsError
        The file cannot be read, or something in it cannot be used or contradicts the rest.
    """
    return read_limits(text_of(path, cure=CURE), name=str(path))


def read_limits(text: str, *, name: str) -> Limits:
    r"""Return the limits in the TOML `text`; `name` is the file's, for messages.

    Raises
    ------
    SettingsError
        The text is no TOML, a name or a value in it cannot be used, or limits contradict each other.

    >>> found = read_limits('[zones.piece]\nshape = "all"\nlargest = "0.5mm"', name="mine.toml")
    >>> str(found.zones[0].allowed.largest)
    '0.5 mm'
    """
    try:
        given = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise SettingsError(f"{name} is not TOML ({error}): {CURE}") from error
    try:
        return _limits(given, usual_name=Path(name).stem)
    except UnitError as error:
        raise SettingsError(f"{name}: {error}") from error


def _limits(given: Values, *, usual_name: str) -> Limits:
    _check_keys(given, KEYS, "acceptance limits")
    zones = given.get("zones")
    if not isinstance(zones, dict) or not zones:
        raise UnitError('no zone is given: add one, such as [zones.piece] with shape = "all" and largest = "0.5mm"')
    limits = Limits(
        name=_text(given.get("name", usual_name), "name"),
        zones=tuple(_zone(name, values) for name, values in zones.items()),
        **{key: KEYS[key](given[key], key) for key in ("head", "belly", "unsure", "reference") if key in given},
    )
    drawn = [zone.name for zone in limits.zones if isinstance(zone.shape, Polygon) and zone.shape.on_reference]
    if drawn and limits.reference is None:
        raise UnitError(f'{drawn[0]}: corners_px need the photograph they are drawn on: add reference = "FILE"')
    if limits.reference is not None and not drawn:
        raise UnitError("reference says nothing without a zone that has corners_px: leave it out")
    return limits


def _zone(name: str, values: Any) -> Zone:
    """Return one zone."""
    if not isinstance(values, dict):
        raise UnitError(f"zones.{name} = {values!r} is no table: write [zones.{name}] and its limits below")
    for key in values:
        if key in KEYS:
            raise UnitError(f"{name}: {key} is said once for all zones: write it above the first of them")
    kind = values.get("shape")
    if not isinstance(kind, str) or kind not in SHAPES:
        if kind is None:
            _check_keys(values, {"shape": None, **dict.fromkeys(SHAPE_KEYS), **ALLOWED}, f"the zone {name}")
            raise UnitError(f'{name} has no shape: add one of {", ".join(SHAPES)}, such as shape = "all"')
        raise UnitError(f"{name}: shape {kind!r} is not known: {nearest(str(kind), list(SHAPES))}")
    own, build = SHAPES[kind]
    others = set(SHAPE_KEYS) - set(own)
    for key in values:
        if key in others:
            raise UnitError(f"{name}: {key} is nothing of the shape {kind}, which has {', '.join(own) or 'none'}")
    _check_keys(values, {"shape": None, **dict.fromkeys(own), **ALLOWED}, f"the zone {name}")
    allowed = Allowed(**{key: read(values[key], f"{name}: {key}") for key, read in ALLOWED.items() if key in values})
    _check_allowed(name, values, allowed)
    shape = build(values, name)
    _check_margin(name, shape, allowed.from_hardware)
    return Zone(name, shape, allowed)


def _check_allowed(name: str, values: Values, allowed: Allowed) -> None:
    """Refuse limits that contradict each other or ask for nothing."""
    if not ALLOWED.keys() & values.keys():
        raise UnitError(f'{name} asks for nothing: add a limit, such as largest = "0.5mm"')
    for key, needs in (("count_over", "count"), ("cluster", "cluster_within"), ("cluster_over", "cluster_within")):
        if key in values and needs not in values:
            raise UnitError(f"{name}: {key} says nothing without {needs}: add it")
    largest = allowed.largest
    for key in ("count_over", "cluster_over"):
        over = getattr(allowed, key)
        if over and largest and over.unit == largest.unit and over.value >= largest.value:
            raise UnitError(
                f"{name}: {key} {over} contradicts largest {largest}, which lets none of it pass: make it smaller"
            )


def _check_margin(name: str, shape: Shape, gap: Length | None) -> None:
    """Refuse a gap to hardware that its zone does not reach: a void just beyond the zone would pass."""
    if isinstance(shape, AroundHardware) and gap and gap.unit == shape.margin.unit and gap.value > shape.margin.value:
        raise UnitError(
            f"{name}: from_hardware {gap} reaches beyond the margin {shape.margin}, and voids are looked at within "
            "it alone: make the margin as large"
        )


def _check_keys(given: Values, known: Mapping[str, Any], what: str) -> None:
    for key in given:
        if key not in known:
            raise UnitError(f"{key} is not known of {what}: {nearest(key, list(known))}")


def _text(value: Any, key: str) -> str:
    if not isinstance(value, str) or not value.strip():
        raise UnitError(f'{key} = {value!r} is not text in quotes: write {key} = "..."')
    return " ".join(value.split())


def _length(value: Any, key: str) -> Length:
    """Return a length with its unit, px among them."""
    if not isinstance(value, str):
        shown = value if isinstance(value, int | float) and math.isfinite(value) else 0.5
        raise UnitError(f'{key} = {value!r} has no unit: write it in quotes, such as "{shown}mm" or "{shown}px"')
    plain = value.strip().lower()
    if not plain.endswith("px"):
        return Length(length_mm(value, what=key), "mm")
    try:
        number = decimal(plain[:-2])
    except ValueError:
        number = math.nan
    if not 0.0 < number < math.inf:
        raise UnitError(f"{key} {value} is no length above zero: write 12px or 0.5mm")
    return Length(number, "px")


def _share(value: Any, key: str) -> float:
    """Return a share, written as one or in percent."""
    text = str(value).strip()
    try:
        number = decimal(text.removesuffix("%")) / (100 if text.endswith("%") else 1)
    except ValueError:
        number = math.nan
    if not 0.0 <= number <= 1.0:
        raise UnitError(f'{key} = {value!r} is no share from 0 to 1: write "2%" or 0.02')
    return number


def _whole(least: int) -> Callable[[Any, str], int]:
    def read(value: Any, key: str) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or value < least:
            raise UnitError(f"{key} = {value!r} is no whole number from {least} on: write {least + 1}")
        return value

    return read


def _score(value: Any, key: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= 100:  # noqa: PLR2004
        raise UnitError(f"{key} = {value!r} is no clarity: give 0 to 100")
    return float(value)


def _rules(known: tuple[str, ...]) -> Callable[[Any, str], tuple[str, ...]]:
    def read(value: Any, key: str) -> tuple[str, ...]:
        rules = [value] if isinstance(value, str) else value
        if not isinstance(rules, list) or not all(isinstance(rule, str) for rule in rules):
            raise UnitError(f'{key} = {value!r} is no list of rules: write {key} = ["{known[0]}"]')
        for rule in rules:
            if rule not in known:
                raise UnitError(f"{key} {rule!r} is not known: {nearest(rule, list(known))}")
        for one, other in OPPOSITES:
            if one in rules and other in rules:
                raise UnitError(f"{key}: {one} and {other} contradict each other: keep one of them")
        return tuple(rules)

    return read


def _unsure(value: Any, key: str) -> str:
    if value not in UNSURE:
        raise UnitError(f"{key} = {value!r} is not known: {nearest(str(value), list(UNSURE))}")
    return str(value)


def _pair(values: Values, key: str, name: str) -> Span:
    """Return two numbers, fractions of the piece."""
    pair = values.get(key)
    if not _is_pair(pair):
        raise UnitError(f"{name}: {key} = {pair!r} is no pair of fractions: write {key} = [0.1, 0.4]")
    assert isinstance(pair, list)  # noqa: S101 - checked above
    if not all(0.0 <= number <= 1.0 for number in pair):
        raise UnitError(f"{name}: {key} = {pair} lies outside the piece, which runs from 0 to 1")
    return float(pair[0]), float(pair[1])


def _is_pair(pair: Any) -> bool:
    numbers = isinstance(pair, list) and len(pair) == 2  # noqa: PLR2004
    return numbers and all(isinstance(n, int | float) and not isinstance(n, bool) and math.isfinite(n) for n in pair)


def _box(values: Values, name: str) -> Shape:
    spans = [_pair(values, key, name) for key in ("along", "across")]
    for key, (low, high) in zip(("along", "across"), spans, strict=True):
        if low >= high:
            raise UnitError(f"{name}: {key} = [{low:g}, {high:g}] does not rise: write the smaller one first")
    return Box(*spans)


def _oval(values: Values, name: str) -> Shape:
    middle, half = _pair(values, "middle", name), _pair(values, "half", name)
    if not min(half) > 0.0:
        raise UnitError(f"{name}: half = {list(half)} has no extent: write half = [0.1, 0.2]")
    return Oval(middle, half)


def _polygon(values: Values, name: str) -> Shape:
    key = "corners_px" if "corners_px" in values else "corners"
    if "corners_px" in values and "corners" in values:
        raise UnitError(f"{name}: corners and corners_px both give the polygon: keep one of them")
    corners = values.get(key)
    if not isinstance(corners, list) or len(corners) < LEAST_CORNERS or not all(map(_is_pair, corners)):
        raise UnitError(f"{name}: {key} = {corners!r} are no corners: write three or more, such as [[0.1, 0.2], ...]")
    if key == "corners" and not all(0.0 <= number <= 1.0 for corner in corners for number in corner):
        raise UnitError(f"{name}: corners lie outside the piece, which runs from 0 to 1: for px write corners_px")
    if np.linalg.matrix_rank(np.subtract(corners, corners[0])) < 2:  # noqa: PLR2004
        raise UnitError(f"{name}: {key} lie on one line, which holds nothing: write corners around the zone")
    if crosses_itself(np.array(corners, np.float64)):
        raise UnitError(f"{name}: the line through its {key} crosses itself: write them in the order around the zone")
    return Polygon(tuple((float(x), float(y)) for x, y in corners), on_reference=key == "corners_px")


def _hardware(values: Values, name: str) -> Shape:
    if "margin" not in values:
        raise UnitError(f'{name} has no margin around the hardware: add margin = "2mm"')
    return AroundHardware(_length(values["margin"], f"{name}: margin"))


SHAPES: Final[dict[str, tuple[tuple[str, ...], Callable[[Values, str], Shape]]]] = {
    Everywhere.word: ((), lambda _values, _name: Everywhere()),
    Box.word: (("along", "across"), _box),
    Oval.word: (("middle", "half"), _oval),
    Polygon.word: (("corners", "corners_px"), _polygon),
    AroundHardware.word: (("margin",), _hardware),
}
SHAPE_KEYS: Final = tuple(key for keys, _ in SHAPES.values() for key in keys)
ALLOWED: Final[dict[str, Callable[[Any, str], Any]]] = {
    "largest": _length,
    "count": _whole(0),
    "count_over": _length,
    "cover": _share,
    "from_hardware": _length,
    "from_surface": _length,
    "cluster": _whole(LEAST_CLUSTER - 1),
    "cluster_within": _length,
    "cluster_over": _length,
    "clarity": _score,
    "unjudged": _share,
    "unseen": _length,
}
KEYS: Final[dict[str, Callable[[Any, str], Any]]] = {
    "name": _text,
    "head": _rules(HEAD_RULES),
    "belly": _rules(BELLY_RULES),
    "unsure": _unsure,
    "reference": _text,
    "zones": lambda value, _key: value,
}
