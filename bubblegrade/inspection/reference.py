"""Zones drawn on one reference photograph, carried over to every piece by its outline."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from bubblegrade.errors import SettingsError
from bubblegrade.grading_run import Casting
from bubblegrade.inspection.frame import lie_of
from bubblegrade.inspection.limits import Limits, Zone
from bubblegrade.inspection.seen import Seen
from bubblegrade.inspection.shapes import Polygon, inside


def carried_over(limits: Limits, reference: Casting, seen: Seen) -> Limits:
    """Return limits whose polygons are in fractions of the piece instead of px of the reference photograph.

    Raises
    ------
    SettingsError
        The reference has no outline, is round or does not tell its head and belly, or a zone lies outside its piece.
    """
    if not len(reference.outline_px):
        raise SettingsError(f"{reference.photo}: no outline was found, by which zones are carried over: show it whole")
    lie = lie_of(reference.outline_px, seen.hardware_px, limits.head, limits.belly)
    if not lie.frames:
        raise SettingsError(
            f"{reference.photo}: the reference is too round to tell its length, by which zones are carried over: use "
            "zones over all of the piece"
        )
    if len(lie.frames) != 1:
        untold = "belly" if lie.head_by else "head"
        raise SettingsError(
            f"{reference.photo}: the reference does not tell its {untold}: say where it lies, such as "
            'head = "left" and belly = "down", with every piece laid the same way'
        )
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
