"""Spec: everything that a traced photograph of a casting is made of."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final, Literal

Body = Literal["puck", "cup", "lure", "slab"]
Colour = tuple[float, float, float]
Planted = tuple[float, float, float, float]  # x, y, z of the middle and the diameter, mm

ATMOSPHERE_PSI: Final = 14.696  # the standard atmosphere
FLAKE_KINDS: Final = ("hexagon", "square", "slip", "disc", "crumb", "foil")
HARDWARE_KINDS: Final = ("ring", "bead", "screw", "plate", "bar")
EYE_KINDS: Final = ("ball", "disc", "stalk")
COIN_MM: Final = 1.9  # thickness


@dataclass(frozen=True)
class Spec:
    """A clear casting on a backlight and the camera above it.

    Lengths in mm, angles in degrees, pressures in psi gauge. z points from the backlight up to the camera; the casting
    stands over the origin.
    """

    name: str
    seed: int
    body: Body = "puck"
    n: float = 1.50  # refractive index of the resin
    radius: float = 22.0  # of a puck or a cup; half the length of a lure or a slab
    height: float = 14.0  # thickness
    width: float = 18.0  # full width of a lure or a slab
    belly: float = 0.0  # of a lure: its belly's reach less its back's, over its width
    planted: tuple[Planted, ...] = ()  # voids at given places, as large as given; the random ones keep clear of them
    voids: int = 80
    median_mm: float = 0.60  # median diameter at atmospheric pressure
    gsd: float = 1.65  # geometric standard deviation of the diameters
    psig: float = 0.0  # when the resin set; squeezes every void by Boyle's law
    surface_voids: int = 0  # floated to just under the top
    flakes: int = 0
    flake_kinds: tuple[str, ...] = ("hexagon", "square")
    flake_mm: tuple[float, float] = (0.15, 0.5)  # half the size, smallest and largest
    coloured: float = 0.0  # share of the flakes that are coloured film instead of metal
    rods: int = 0  # fibres and rods set in the resin
    wire: bool = False
    ballast: bool = False
    eye: bool = False
    eye_kind: str = "ball"  # one of EYE_KINDS
    hardware: tuple[str, ...] = ()  # of HARDWARE_KINDS
    dust: int = 0  # fibres on top of the casting, gone when it is wiped
    dust_seed: int | None = None  # None: follows from seed
    specks: int = 0  # dirt on the light, stays when the casting is turned
    pits: int = 0  # dents in the top
    scratches: int = 0  # grooves in the top
    coin: tuple[float, float, float] | None = None  # on the light: diameter, x and y of its middle
    turn: float = 0.0  # the casting turned about the vertical
    grow: float = 1.0  # every void's diameter against what it was
    misshapen: float = 0.0  # share of voids that are flattened or drawn out
    light: float = 120.0  # side of the square backlight
    gap: float = 1.0  # backlight to casting
    vignette: float = 0.10  # fall-off of the light at the corner
    gradient: float = 0.0  # slope of the light from left to right
    ledgrid: float = 0.0  # ripple of a poorly diffused panel
    camera: float = 320.0  # height above the backlight
    tilt: float = 0.0  # of the camera off the vertical
    roll: float = 0.0  # of the camera about its own axis
    view: float = 60.0  # width of the field of view at the casting's middle
    width_px: int = 1600
    height_px: int = 1600
    aperture: float = 0.0  # radius of the lens, 0 for a pinhole
    focus: float | None = None  # z in focus, None for the casting's middle
    exposure: float = 0.62  # linear level of the bare light
    tint: Colour = (1.0, 1.0, 1.0)  # multiplies what passes the body
    noise: float = 5000.0  # electrons at full scale
    blur: float = 0.6  # of the lens, px
    sharpen: float = 0.4
    jpeg: int = 92  # quality
    spp: int = 48  # rays a pixel
    extra: dict[str, Any] = field(default_factory=dict)  # meniscus (mm), room (radiance), light_picture
    # (512 x 512 x 3), eye (x, y in mm), wire (x, y of both ends in mm)

    @property
    def middle_mm(self) -> float:
        """Height of the casting's middle above the backlight."""
        return self.gap + self.height / 2

    @property
    def top_mm(self) -> float:
        """Height of the casting's top above the backlight."""
        return self.gap + self.height

    @property
    def reach_mm(self) -> tuple[float, float]:
        """Half the casting's extent along x and y."""
        return self.radius, self.radius if self.body in ("puck", "cup") else self.width / 2 * (1 + abs(self.belly))

    @property
    def squeeze(self) -> float:
        """Diameter of a void in the set casting over its diameter at atmospheric pressure.

        >>> round(Spec("a", 1, psig=7 * 14.696).squeeze, 6)
        0.5
        """
        return float((ATMOSPHERE_PSI / (ATMOSPHERE_PSI + self.psig)) ** (1 / 3))
