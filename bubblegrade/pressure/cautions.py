"""Cautions that stand wherever a pressure is printed or resin is planned, each with its ground and source.

They add nothing to the maker's plate and manual, the local codes and licensed practice, which decide.
"""

from __future__ import annotations

from typing import Final

from bubblegrade.pressure.situation import COMMON, MAKERS, VESSEL_CODE, Advice, Level

HEALTH: Final = "health and safety regulators"


def _caution(rule: str, text: str, *, ground: str, source: str) -> Advice:
    return Advice(Level.CAUTION, rule, text, ground, source)


PRESSURE: Final = (
    _caution(
        "rating",
        "Stay at or below the rated working pressure on the pot's plate, with a working relief valve set no higher.",
        ground="A relief valve has to keep pressure from rising more than 10 % or 3 psi past the working pressure.",
        source=VESSEL_CODE,
    ),
    _caution(
        "vessel",
        "Use no home-made or altered vessel, no unrated lid, and no vacuum chamber under pressure.",
        ground="Home-made chambers have burst; a lid flew off altered clamps although its relief valve worked.",
        source=MAKERS,
    ),
    _caution(
        "opening",
        "Never open a lid, loosen a clamp or lean over a lid under pressure: vent to 0 on the gauge and open the vent "
        "first, for the needle alone is no proof.",
        ground="60 psi push a lid of 250 mm with 20 kN, the weight of two tonnes.",
        source=COMMON,
    ),
    _caution(
        "authority",
        "The maker's plate and manual, local codes and licensed practice decide; nothing printed here does.",
        ground="This is arithmetic on the numbers given; it has not seen the pot.",
        source=COMMON,
    ),
)
RESIN: Final = (
    _caution(
        "isocyanate",
        "Uncured urethane holds isocyanates: extraction or real ventilation, the right respirator, gloves and long "
        "sleeves; stop for good at the first reaction, and keep away with asthma.",
        ground="Isocyanates are a leading cause of asthma from work; skin contact can bring it on too.",
        source=HEALTH,
    ),
    _caution(
        "resin",
        "Uncured epoxy and polyester go through skin and lungs too: gloves, goggles, air, and no solvent on the skin; "
        "wash a hardener out of an eye at once.",
        ground="Epoxy makes skin allergic for life; peroxide hardener has to be out of an eye within seconds.",
        source=MAKERS,
    ),
    _caution(
        "heat",
        "Mix no more at once than the label says; put no water on resin that smokes.",
        ground="Resin in bulk can run past 200 C.",
        source=MAKERS,
    ),
    _caution(
        "dust",
        "Sanding dust of cast resin is very fine: filter mask and goggles.",
        ground="Fine powder reaches deep into the lungs.",
        source=MAKERS,
    ),
)
