"""Zones drawn on one reference photograph, carried over to every piece by its outline."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from bubblegrade.errors import SettingsError
from bubblegrade.grading_run import Casting
from bubblegrade.inspection.frame import Lie, lie_of
from bubblegrade.inspection.limits import DIRECTIONS, Limits, Zone
from bubblegrade.inspection.seen import Seen
from bubblegrade.inspection.shapes import Polygon, inside


def carried_over(limits: Limits, reference: Casting, seen: Seen) -> Limits:
    """Return limits whose polygons are in fractions of the piece instead of px of the reference photograph.

    Raises
    ------
    SettingsError
        The reference is round or does not tell its head and belly, or a zone lies outside its piece.
    """
    lie = lie_of(reference.outline_px, seen.hardware_px, limits.head, limits.belly)
    if not lie.frames:
        raise SettingsError(
            f"{reference.photo}: the reference is too round to tell its length, by which zones are carried over: use "
            "zones over all of the piece"
        )
    if len(lie.frames) != 1:
        raise SettingsError(f"{reference.photo}: {_untold(lie, limits)}")
    frame = lie.frames[0]

    def carried(zone: Zone) -> Zone:
        if not (isinstance(zone.shape, Polygon) and zone.shape.on_reference):
            return zone
        corners = zone.shape.border()
        if not (inside(corners, reference.outline_px).any() or inside(reference.outline_px, corners).any()):
            raise SettingsError(
                f"{zone.name} lies outside the piece on {reference.photo}: check corners_px, which count in it "
                "upright, with --card in it squared"
            )
        places = frame.fractions(np.asarray(corners))
        return replace(zone, shape=Polygon(tuple((float(along), float(across)) for along, across in places)))

    return replace(limits, zones=tuple(map(carried, limits.zones)))


def _untold(lie: Lie, limits: Limits) -> str:
    """Return what the reference does not tell of how it lies, and what to do."""
    end, rules = ("belly", limits.belly) if lie.head_by else ("head", limits.head)
    said = next((rule for rule in rules if rule in DIRECTIONS), None)
    if said is not None:
        return (
            f'the reference does not tell its {end}, for it lies across "{said}": lay it and every piece so that its '
            f"{end} points there, or name the direction in which it does"
        )
    return (
        f"the reference does not tell its {end}: say where it lies, such as "
        'head = "left" and belly = "down", with every piece laid the same way'
    )
