"""Options shared by every command with a pressure: the air around the pot, and what pot and mould bear."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from bubblegrade.errors import InputError
from bubblegrade.units import GaugePressure, altitude_m, barometer

if TYPE_CHECKING:
    from bubblegrade.pressure.atmosphere import Atmosphere
    from bubblegrade.pressure.situation import Limits

Command = TypeVar("Command", bound=Callable[..., Any])

# The option's name among a command's options, how it is written, and the same limit in the file of a pot.
LIMITS: Final = (
    ("rated", "--rated", "rated_pressure"),
    ("relief", "--relief", "relief_setting"),
    ("mould_pressure", "--mould-pressure", "mould_pressure"),
)


def air_options(command: Command) -> Command:
    """Add --altitude and --barometer, which `stated_atmosphere` reads."""
    for option in (
        click.option("--barometer", metavar="PRESSURE", help="Air pressure read beside the pot, such as '1013 hPa'."),
        click.option("--altitude", metavar="HEIGHT", help="Height above the sea, such as 1500m or 4900ft."),
    ):
        command = option(command)
    return command


def limit_options(command: Command) -> Command:
    """Add --rated, --relief, --mould-pressure and --pot, which `stated_limits` reads."""
    for option in (
        click.option("--pot", metavar="FILE.toml", type=click.Path(path_type=Path), help="File describing the pot."),
        click.option("--mould-pressure", metavar="PRESSURE", help="What the mould itself was cast at, such as 60psi."),
        click.option("--relief", metavar="PRESSURE", help="What the relief valve is set to, such as 65psi."),
        click.option("--rated", metavar="PRESSURE", help="Working pressure on the pot's plate, such as 70psi."),
    ):
        command = option(command)
    return command


def stated_atmosphere(options: dict[str, Any]) -> Atmosphere:
    """Return the air around the pot as the options say; sea level where they say nothing.

    Raises
    ------
    UnitError
        Altitude and barometer are both given, or one of them cannot be used.
    """
    from bubblegrade.pressure.atmosphere import atmosphere  # noqa: PLC0415

    height, air = options["altitude"], options["barometer"]
    return atmosphere(
        altitude_m=None if height is None else altitude_m(height, what="--altitude"),
        barometer=None if air is None else barometer(air, what="--barometer"),
    )


def stated_limits(options: dict[str, Any]) -> Limits:
    """Return what pot and mould bear as the options and the pot's file say; what neither says stays unknown.

    Raises
    ------
    InputError
        The file cannot be used, or an option is above what the file says.
    UnitError
        An option is no pressure that a plate states.
    """
    from bubblegrade.pressure.atmosphere import ROUNDING_SHARE  # noqa: PLC0415
    from bubblegrade.pressure.situation import Limits  # noqa: PLC0415
    from bubblegrade.runs.pot_file import read_pot_file  # noqa: PLC0415

    path = options["pot"]
    filed = Limits() if path is None else read_pot_file(path).limits
    stated = {name: _limit(options[name], option) for name, option, _ in LIMITS}
    in_file = {"rated": filed.rated, "relief": filed.relief, "mould_pressure": filed.mould}
    for name, option, key in LIMITS:
        here, there = stated[name], in_file[name]
        if here is not None and there is not None and here.psig > there.psig * (1.0 + ROUNDING_SHARE):
            raise InputError(
                f"{option} {options[name]} is above {key} in {path}, {there.psig:.4g} psi: "
                "an option may only lower it; go by the plate, and mend the file if it is wrong"
            )
    lower = {name: in_file[name] if stated[name] is None else stated[name] for name, *_ in LIMITS}
    return Limits(rated=lower["rated"], relief=lower["relief"], mould=lower["mould_pressure"])


def _limit(text: str | None, option: str) -> GaugePressure | None:
    """Return a limit as a dial would show it, refused where no plate states it."""
    from bubblegrade.pressure.pot import stated_limit  # noqa: PLC0415

    return None if text is None else stated_limit(text, what=option)
