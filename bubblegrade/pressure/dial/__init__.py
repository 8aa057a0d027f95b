"""How far the needle of a round gauge has moved between two photographs of the same dial.

    photographs ──> ellipse of the dial ──> squared ──> needles ──> second laid on the first by its print ──> turn
                    ellipse.py              face.py     needle.py   matching.py                               turning.py

No reader of gauges: what the dial shows in the first photograph is told, and the difference alone is measured.
"""

from __future__ import annotations

from bubblegrade.pressure.dial.turning import DialPhoto, NeedleTurn, needle_turn

__all__ = ["DialPhoto", "NeedleTurn", "needle_turn"]
