"""The errors that a user can mend.

    BubblegradeError            base of all; one line: the value, the fault, the cure
    ├── InputError              nothing usable was given: a file, a folder, an argument
    │   ├── PhotoError          a photograph cannot be read or measured
    │   ├── PartError           one part of what was written cannot be used, and says which
    │   ├── UnitError           a length or a pressure without a usable unit
    │   └── SettingsError       a settings file that cannot be used
    ├── OutputError             the results cannot be written
    └── CutShortError           who grades is gone; what was finished stays, and --resume goes on with it
        └── StoppedError        a person has ended the run

A broken promise between the package's own functions is an AssertionError and is not caught.
"""

from __future__ import annotations


class BubblegradeError(Exception):
    """Base of every error that is shown to the user as one line."""

    def __str__(self) -> str:
        """Return the line; what would end it, or act on a terminal, in what the user wrote becomes an escape."""
        line = super().__str__()
        return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode("ascii") for sign in line)


class InputError(BubblegradeError):
    """Nothing usable was given."""


class PhotoError(InputError):
    """A photograph cannot be read or measured."""


class PartError(InputError):
    """Parts of what was written cannot be used: their `names`, and the `place` of their row, from 0, among several."""

    def __init__(self, line: str, *names: str, place: int = 0) -> None:
        super().__init__(line)
        self.names, self.place = names, place


class UnitError(InputError):
    """A length or a pressure without a usable unit."""


class SettingsError(InputError):
    """A settings file that cannot be used."""


class OutputError(BubblegradeError):
    """The results cannot be written."""


class CutShortError(BubblegradeError):
    """Who grades is gone in the middle of a run: what was finished stays for a run that goes on."""


class StoppedError(CutShortError):
    """A person has ended a run in the middle."""
