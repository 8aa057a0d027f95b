"""`bubblegrade weigh`: density and void content by weight, set beside what the photograph shows."""

from __future__ import annotations

from dataclasses import asdict
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bubblegrade.errors import InputError, UnitError

if TYPE_CHECKING:
    from bubblegrade.pressure.weighed import WeighQuestion
    from bubblegrade.pressure.weight import Density, Water, Weighing

USUAL_RESOLUTION_G: Final = 0.01  # of a jeweller's scale (common practice)
REFERENCE_ERR: Final = 0.5  # kg/m3, of a density stated to a tenth of a percent; rounded more coarsely it is worse
ROUNDED: Final = 12.0**-0.5  # standard uncertainty over the step of what was rounded
MASSES: Final = ("air", "water", "holder", "reference_air", "reference_water", "master")
# Densities in kg/m3, handbook values rounded (from memory).
BALLASTS: Final = {"lead": 11340.0, "tungsten": 19250.0, "steel": 7850.0, "brass": 8500.0}


@click.command()
@click.option("--air", metavar="MASS", help="The piece on the scale, such as 25.00g.")
@click.option("--water", metavar="MASS[@TEMPERATURE]", help="The piece hanging in water, such as 3.26g@23C.")
@click.option(
    "--holder", metavar="MASS", help="Holder or sinker alone in that water, if the scale does not read 0 with it."
)
@click.option("--resolution", metavar="MASS", help="Of the scale.  [0.01g, or the last digit written]")
@click.option("--reference", metavar="DENSITY", help="Of the same resin without voids, such as 1.150g/cm3.")
@click.option("--reference-air", metavar="MASS", help="Or a void-free sample of the same cure on the scale.")
@click.option("--reference-water", metavar="MASS[@TEMPERATURE]", help="That sample hanging in water.")
@click.option("--master", metavar="MASS", help="Mass of the master, or of a piece that is right.")
@click.option("--ballast", metavar="METAL", help=f"{', '.join(BALLASTS)} or a density: what may be missing of it.")
@click.option(
    "--graded", metavar="DIR", type=click.Path(path_type=Path), help="Folder of grade: what the photograph shows."
)
@click.option("--photo", metavar="NAME", help="Which photograph of that folder.")
@click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Folder for the record.")
@click.option("--replace", is_flag=True, help="Replace an earlier weighing in DIR.")
@click.option("--json", "as_json", is_flag=True, help="Print weigh.json instead of the report.")
@click.pass_context
def weigh(ctx: click.Context, /, out: Path | None, **options: Any) -> None:
    """Measure density and void content by weight, and set a piece's mass beside a master's.

    A piece that floats needs a sinker: weigh both in water, and the sinker alone as --holder; or set the scale to 0
    with the sinker in the water, and give the piece's reading below 0.

    Exit status: 0 done; 2 nothing usable.
    """
    question = _question(options)
    # Everything below needs the libraries that calculate, which help and slips of the pen need not wait for.
    from bubblegrade.pressure.weighed import weigh as weighed  # noqa: PLC0415
    from bubblegrade.results.folder import ResultFolder  # noqa: PLC0415
    from bubblegrade.results.weigh import RECORD_FILE, weigh_json  # noqa: PLC0415
    from bubblegrade.runs.graded_volume import read_seen_volume  # noqa: PLC0415
    from bubblegrade.show.tables import table_console  # noqa: PLC0415
    from bubblegrade.show.weigh_tables import show_weighed  # noqa: PLC0415

    found = weighed(question)
    place = options["graded"]
    seen = None if place is None else asdict(read_seen_volume(place, options["photo"]))
    release = version("bubblegrade")
    text = weigh_json(found, seen, version=release)
    if out is not None:
        with ResultFolder.prepare(out, replace=options["replace"], record=RECORD_FILE) as folder:
            text = weigh_json(found, seen, version=release, files=(RECORD_FILE,))
            folder.write_text(RECORD_FILE, text)
    if options["as_json"]:
        # In UTF-8, whatever the terminal's own code is.
        click.echo(text.encode("utf-8", errors="backslashreplace"), nl=False)
    else:
        show_weighed(found, seen, table_console())
    ctx.exit(0)


def _question(options: dict[str, Any]) -> WeighQuestion:
    """Return what was weighed, checked."""
    from bubblegrade.pressure.weighed import WeighQuestion  # noqa: PLC0415
    from bubblegrade.pressure.weight import Water  # noqa: PLC0415
    from bubblegrade.units import mass_g  # noqa: PLC0415

    if options["air"] is None:
        raise InputError("nothing is weighed: give the piece's mass with --air, such as --air 25.00g")
    if options["water"] is None and options["master"] is None:
        raise InputError("--air alone tells nothing: add --water for the density, or --master for the difference to it")
    if options["reference"] is not None and options["reference_air"] is not None:
        raise InputError("--reference and --reference-air both say what the resin weighs: leave one of them out")
    if (options["reference_air"] is None) != (options["reference_water"] is None):
        raise InputError("--reference-air and --reference-water go together: weigh the sample in both")
    if options["ballast"] is not None and options["master"] is None:
        raise InputError("--ballast is what may be missing of a master's mass: add --master with that mass")
    if options["photo"] is not None and options["graded"] is None:
        raise InputError("--photo names a photograph of a graded folder: add --graded DIR")
    resolution = _resolution_g(options)
    piece, water = _hung(options["air"], options["water"], options["holder"], resolution, "")
    sample, sample_water = _hung(options["reference_air"], options["reference_water"], None, resolution, "reference-")
    stated, master, ballast = options["reference"], options["master"], options["ballast"]
    if piece is None and stated is None and master is not None:
        raise InputError("--master compares by volume too: add --reference with the resin's density, or --water")
    return WeighQuestion(
        piece=piece,
        water=water or Water(),
        in_air_g=mass_g(options["air"], what="--air"),
        resolution_g=resolution,
        reference=None if stated is None else _stated(stated),
        reference_weighed=None if sample is None or sample_water is None else (sample, sample_water),
        master_g=None if master is None else mass_g(master, what="--master"),
        ballast_kg_m3=None if ballast is None else _ballast(ballast),
    )


def _resolution_g(options: dict[str, Any]) -> float:
    """Return the scale's resolution: as stated, else a jeweller's scale's, unless all masses are written coarser."""
    from bubblegrade.units import mass_g, mass_step_g  # noqa: PLC0415

    if options["resolution"] is not None:
        return mass_g(options["resolution"], what="--resolution")
    masses = {name: options[name].partition("@")[0] for name in MASSES if options[name] is not None}
    steps = [mass_step_g(mass, what=f"--{name.replace('_', '-')}") for name, mass in masses.items() if not _none(mass)]
    return max(USUAL_RESOLUTION_G, min(steps, default=0.0))


def _none(mass: str) -> bool:
    """Whether no mass is written, as of a piece that hangs in water and weighs nothing there."""
    return mass.strip().rstrip("g").strip() in ("0", "0.0", "0.00")


def _stated(text: str) -> Density:
    """Return a density as stated, known to its last digit and no better than REFERENCE_ERR."""
    from bubblegrade.pressure.weight import Density  # noqa: PLC0415
    from bubblegrade.units import density_kg_m3, density_step_kg_m3  # noqa: PLC0415

    step = density_step_kg_m3(text, what="--reference")
    return Density(density_kg_m3(text, what="--reference"), max(REFERENCE_ERR, ROUNDED * step))


def _hung(
    air: str | None, water: str | None, holder: str | None, resolution_g: float, prefix: str
) -> tuple[Weighing | None, Water | None]:
    """Return a weighing in air and in water, and the water; a piece that floats reads below 0 with its sinker tared."""
    from bubblegrade.pressure.weight import Water, Weighing  # noqa: PLC0415
    from bubblegrade.units import celsius, mass_g  # noqa: PLC0415

    if air is None or water is None:
        if holder is not None:
            raise InputError("--holder says nothing without --water: add the mass in water")
        return None, None
    what = f"--{prefix}water {water}:"
    mass, _, temperature = water.partition("@")
    sign, size = (-1.0, mass.strip()[1:]) if mass.strip().startswith("-") else (1.0, mass)
    immersed = 0.0 if _none(size) else sign * mass_g(size, what=what)
    found = Weighing(
        in_air_g=mass_g(air, what=f"--{prefix}air"),
        in_water_g=immersed,
        holder_g=0.0 if holder is None else mass_g(holder, what="--holder"),
        resolution_g=resolution_g,
    )
    return found, Water.of(celsius(temperature, what=what)) if temperature else Water()


def _ballast(text: str) -> float:
    """Return the density of a ballast, by its name or as stated."""
    from bubblegrade.settings import nearest  # noqa: PLC0415
    from bubblegrade.units import density_kg_m3  # noqa: PLC0415

    if text.lower() in BALLASTS:
        return BALLASTS[text.lower()]
    if text.isalpha():
        raise InputError(f"--ballast {text} is no ballast that is known: {nearest(text, list(BALLASTS))}")
    try:
        return density_kg_m3(text, what="--ballast")
    except UnitError as error:
        raise InputError(f"{error}, or name one of {', '.join(BALLASTS)}") from error
