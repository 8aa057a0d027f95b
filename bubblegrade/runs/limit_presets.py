"""Presets of acceptance limits: commented files to begin with, in this program's own format. They are no standards."""

from __future__ import annotations

from typing import Final

_HEAD: Final = """\
# Acceptance limits for bubblegrade inspect.
# This is the preset "{preset}" of bubblegrade: numbers to begin with, no standard. Set every one to what you, or who
# buys from you, will accept.
#
# Lengths need their unit: "0.5mm", "0.02in", or "12px" where no scale is given. Shares are "2%" or 0.02.
# A void whose 95 % interval straddles a limit, and what cannot be judged, is "look again", never a pass.

name = "{name}"
"""
_LIE: Final = """
# Which end is the head, and which side the belly. Rules are tried in order; where none tells, the piece is judged
# both ways and has to be looked at again if the two differ.
#   head:  "eye" (hardware near one end), "thick end", "thin end", or where it lies: "left", "right", "up", "down"
#   belly: "round side", "flat side", "left", "right", "up", "down"
head = {head}
belly = {belly}
"""
_UNSURE: Final = """
# What to do with finds that may or may not be voids: "ignore", "look again" or "count".
unsure = "look again"
"""
_KEYS: Final = """
# A zone has a shape and as many limits as you like:
#   shape = "all"                                          the whole piece
#   shape = "box"         along, across                    fractions: along from head (0) to tail (1),
#   shape = "oval"        middle, half                     across from back (0) to belly (1); a piece too round to have
#                                                          a length takes ovals in its middle, both halves alike
#   shape = "polygon"     corners = [[along, across], ...]; or corners_px of the photograph named by reference = "..."
#                                                          (of it upright; with --card squared, as its record has it)
#                                                          loops and ends of wire at the outline count as no length
#   shape = "hardware"    margin                           all within the margin of hardware that was found
#
#   largest        diameter of the largest void              from_hardware   least gap to hardware
#   count          most voids over the size count_over       from_surface    least gap to the outline, as seen
#   cover          most of the judged area under voids       clarity         least clarity, 0 to 100
#   cluster        so many voids make a cluster (3) where    unjudged        most of the zone left unjudged (25%)
#   cluster_within they lie within this distance of one      cluster_over    and are larger than this
#   unseen         largest void that may lie where nothing can be judged
#
# A round flank has a dark rim through which no light comes: voids there are neither counted nor measured. Without
# unseen a piece may pass with such a rim; how large a void could lie in it is then told beside the verdict. With
# unseen = "1mm" it is looked at again where that is more than 1 mm: no piece with a wide dark rim passes by this
# photograph alone. Show its sides as well, named so that --pieces joins them: each is held to the limits by itself,
# so give unseen to those zones that every photograph shows lit. What is seen to break the rim is "look again" in
# any case, unless unsure = "ignore".
#
# How deep a void lies under the face that is photographed cannot be told: look at the sides as well.
"""

_LURE_ZONES: Final = """
[zones.face]            # eyes and face are looked at first (common practice)
shape = "box"
along = [0.0, 0.3]
across = [0.0, 1.0]
largest = "0.4mm"
count = 3
count_over = "0.2mm"
unjudged = "50%"

[zones.flank]
shape = "box"
along = [0.3, 0.92]
across = [0.0, 0.65]
largest = "0.6mm"
count = 8
count_over = "0.3mm"
cover = "2%"
cluster = 3
cluster_within = "2mm"
unjudged = "50%"

[zones.belly]
shape = "box"
along = [0.3, 0.92]
across = [0.65, 1.0]
largest = "0.8mm"
cover = "3%"
unjudged = "50%"

[zones.gate]            # where the resin was poured in, here at the tail
shape = "box"
along = [0.92, 1.0]
across = [0.0, 1.0]
largest = "1mm"
unjudged = "60%"

[zones.hardware]        # voids beside hangers and wire weaken the hold (common practice)
shape = "hardware"
margin = "2mm"
largest = "0.5mm"
from_hardware = "0.3mm"
unjudged = "50%"
"""
_ALL_LURE: Final = """
[zones.surface]         # what is open at the surface shows most (common practice)
shape = "all"
from_surface = "0.2mm"
unjudged = "40%"
"""
_SCALE_ZONES: Final = """
[zones.face]            # what the hand and the eye meet
shape = "box"
along = [0.05, 0.95]
across = [0.1, 0.9]
largest = "0.3mm"
count = 5
count_over = "0.15mm"
cover = "0.5%"
cluster = 3
cluster_within = "3mm"
clarity = 60
unjudged = "30%"

[zones.edge]            # is ground away or rounded: voids there come to the surface
shape = "all"
largest = "0.5mm"
from_surface = "0.5mm"
unjudged = "40%"
"""
_JEWEL_ZONES: Final = """
[zones.middle]
shape = "oval"
middle = [0.5, 0.5]
half = [0.35, 0.35]
largest = "0.2mm"
count = 1
count_over = "0.1mm"
clarity = 85
unjudged = "30%"

[zones.everywhere]
shape = "all"
largest = "0.4mm"
cluster = 3
cluster_within = "2mm"
unjudged = "40%"
"""


def _file(preset: str, name: str, head: str, belly: str, zones: str) -> str:
    parts = (_HEAD.format(preset=preset, name=name), _LIE.format(head=head, belly=belly), _UNSURE, _KEYS, zones)
    return "".join(parts)


PRESETS: Final = {
    "clear-lure": _file("clear-lure", "clear lure", '["eye", "thick end"]', '["round side"]', _LURE_ZONES + _ALL_LURE),
    "knife-scale": _file("knife-scale", "knife scale", '["thick end"]', '["round side"]', _SCALE_ZONES),
    "pendant": _file("pendant", "pendant", '["eye", "thin end"]', '["round side"]', _JEWEL_ZONES),
}
