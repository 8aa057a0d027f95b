"""The law for every reader: what a file says is read, or exactly one line says what is wrong; nothing else happens."""

from __future__ import annotations

import tempfile
import warnings
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from bubblegrade.errors import BubblegradeError
from bubblegrade.photo.reading import pixels_of, read_photo
from bubblegrade.pressure.atmosphere import SEA_LEVEL
from bubblegrade.records.checking import faults
from bubblegrade.records.dump import TABLES, columns_of, tables_in
from bubblegrade.records.log import open_log
from bubblegrade.records.salvage import salvage
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.journal import Journal, read_journal
from bubblegrade.results.spool import Spool
from bubblegrade.runs.earlier import Asked, reusable
from bubblegrade.runs.graded_volume import read_seen_volume
from bubblegrade.runs.hold_sheet import read_hold_sheet
from bubblegrade.runs.limits_file import read_limits_file
from bubblegrade.runs.log_folder import results_of
from bubblegrade.runs.log_sheet import read_castings, read_export
from bubblegrade.runs.measured_spread import read_cup_spread
from bubblegrade.runs.pieces import read_pieces
from bubblegrade.runs.pot_file import read_pot_file
from bubblegrade.runs.sheet import read_sheet
from bubblegrade.settings import Settings, read_settings
from tests.fuzz import seeds

Read = Callable[[Path], object]


@dataclass(frozen=True)
class Target:
    """A reader and the whole files that it is given damaged."""

    read: Read
    whole: Mapping[str, bytes]  # by the name that the file gets


def held(target: Target, name: str, data: bytes) -> bool:
    """Read damaged `data`; tell whether it was read.

    Raises
    ------
    AssertionError
        The line for the user is none, or more than one; whatever else the reader raises comes through.
    """
    with tempfile.TemporaryDirectory(prefix="fuzz") as folder:
        place = Path(folder, name)
        place.write_bytes(data)
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("error")
                warnings.filterwarnings("ignore", message="rawpy is being used in a process created")
                target.read(place)
        except BubblegradeError as error:
            line = str(error)
            assert line, "an empty line"
            assert "\n" not in line, f"more than one line: {line!r}"
            return False
        assert place.exists(), "what was read is gone"
        return True


def _photo(path: Path) -> None:
    photo = read_photo(path)
    assert photo.codes.ndim in (2, 3), photo.codes.shape
    assert photo.codes.size
    assert pixels_of(path) >= 0.0


def _log(path: Path) -> None:
    with open_log(path) as log:
        list(faults(log.connection))
        log.add({"resin": "Clear One"})


def _rescue(path: Path) -> None:
    new = path.with_name("new.sqlite")
    salvage(path, new)
    with open_log(new) as log:
        list(faults(log.connection))


def _import(path: Path) -> None:
    new = path.with_name("new.sqlite")
    with open_log(new, create=True) as log:
        types = {table: columns_of(log.connection, table) for table in TABLES}
        place = path if path.suffix == ".json" else path.parent
        tables_in(log.connection, read_export(place, types))
        list(faults(log.connection))


def _record(path: Path) -> None:
    """Read a record as all do that look for results: the log, weighing, planning, grading again and replacing."""
    asked = Asked("0", seeds.Request(mm_per_px=0.05), Settings(), None)
    reusable(path.parent, asked, Spool.begin(path.parent))
    _both(lambda: results_of(path), lambda: read_seen_volume(path.parent, None), lambda: read_cup_spread(path))
    with ResultFolder.prepare(path.parent, replace=True) as folder:
        folder.write_text("run.json", "{}")


def _both(*reads: Callable[[], object]) -> None:
    """Do every read, whichever of them finds a fault."""
    for read in reads:
        with suppress(BubblegradeError):
            read()


def _journal(path: Path) -> None:
    stands = read_journal(path.parent)
    lines = [] if stands is None else [line.end for line in stands.lines()]
    Journal.begin(path.parent, {"format": 1})
    stands = read_journal(path.parent)
    assert stands is not None
    assert [line.end for line in stands.lines()] == lines


def _settings(path: Path) -> None:
    try:
        text = path.read_bytes().decode()
    except UnicodeDecodeError:
        return
    read_settings(text, name="my.toml")


def _cups(path: Path) -> None:
    path.with_name("cup.jpg").touch()
    read_sheet(path, SEA_LEVEL)


TARGETS: dict[str, Target] = {
    "photo": Target(_photo, seeds.pictures()),
    "limits": Target(read_limits_file, {"limits.toml": seeds.TEXTS["limits"]}),
    "settings": Target(_settings, {"my.toml": seeds.TEXTS["settings"]}),
    "pot": Target(read_pot_file, {"pot.toml": seeds.TEXTS["pot"]}),
    "trial sheet": Target(_cups, {"cups.csv": seeds.SHEETS["trial"]}),
    "hold sheet": Target(read_hold_sheet, {"hold.csv": seeds.SHEETS["readings"]}),
    "pieces": Target(read_pieces, {"pieces.csv": seeds.SHEETS["pieces"]}),
    "castings": Target(read_castings, {"castings.csv": seeds.SHEETS["log"]}),
    "log": Target(_log, {"log.sqlite": seeds.logs()["log.sqlite"]}),
    "rescue": Target(_rescue, {"log.sqlite": seeds.logs()["log.sqlite"]}),
    "export": Target(_import, {name: seeds.logs()[name] for name in ("log.json", "casting.csv")}),
    "record": Target(_record, {"run.json": seeds.results()["run.json"]}),
    "journal": Target(_journal, {"run.journal": seeds.results()["run.journal"]}),
}
