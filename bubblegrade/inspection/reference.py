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
        The reference has no outline, or does not tell its head and belly, or a zone lies outside its piece.
    """
    if not len(reference.outline_px):
        raise SettingsError(f"{reference.photo}: no outline was found, by which zones are carried over: show it whole")
    lie = lie_of(reference.outline_px, seen.hardware_px, limits.head, limits.belly)
    if len(lie.frames) != 1:
        untold = "length" if not lie.frames else "head" if not lie.head_by else "belly"
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
            raise SettingsError(f"{zone.name} lies outside the piece on {reference.photo}: check corners_px")
        places = frame.fractions(np.asarray(corners))
        return replace(zone, shape=Polygon(tuple((float(along), float(across)) for along, across in places)))

    return replace(limits, zones=tuple(map(carried, limits.zones)))
