"""The text of a file that a person writes or names: settings, limits, a pot, a lens."""

from __future__ import annotations

from pathlib import Path

from bubblegrade.errors import SettingsError


def text_of(path: Path, *, cure: str) -> str:
    """Return a file's text; `cure` says what to do where it is none.

    Raises
    ------
    SettingsError
        It cannot be opened, or is not UTF-8.
    """
    try:
        return path.read_text("utf-8-sig")
    except OSError as error:
        raise SettingsError(f"{path} cannot be opened ({error.strerror}): check its name") from error
    except UnicodeDecodeError as error:
        raise SettingsError(f"{path} is not text in UTF-8: {cure}") from error
