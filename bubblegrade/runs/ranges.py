"""How far what is asked may reach, and what is usual: the same on the command line and on the page."""

from __future__ import annotations

from typing import Final

WIDEST_MM: Final = 5000.0  # of a casting that a camera takes in
THICKEST_MM: Final = 500.0  # of a casting that light from behind gets through
COARSEST_MM: Final = 10.0  # of a void that anybody would call just visible
USUAL_SWEEP_DEG: Final = 270.0  # of a dial, from one end of its scale to the other, ASME B40.100
WIDEST_SWEEP_DEG: Final = 340.0
USUALLY_LISTED: Final = 30  # castings of the log
