"""Where the log is: as named, else as the environment says, else in the user's own data folder."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Final

VARIABLE: Final = "BUBBLEGRADE_LOG"
FILE: Final = "castings.sqlite"
FOLDER: Final = "bubblegrade"


def log_place(
    named: Path | None,
    environment: Mapping[str, str] = os.environ,
    *,
    platform: str = sys.platform,
    home: Path | None = None,
) -> Path:
    """Return the log's file.

    Without a name and without the variable it is bubblegrade/castings.sqlite in %LOCALAPPDATA% on Windows, in
    ~/Library/Application Support on macOS, elsewhere in $XDG_DATA_HOME, or ~/.local/share without that.

    >>> log_place(None, {"XDG_DATA_HOME": "/data"}, platform="linux").as_posix()
    '/data/bubblegrade/castings.sqlite'
    """
    if named is not None:
        return named
    if environment.get(VARIABLE):
        return Path(environment[VARIABLE])
    own = Path.home() if home is None else home
    if platform == "win32":
        data = Path(environment.get("LOCALAPPDATA") or own / "AppData" / "Local")
    elif platform == "darwin":
        data = own / "Library" / "Application Support"
    else:
        data = Path(environment.get("XDG_DATA_HOME") or own / ".local" / "share")
    return data / FOLDER / FILE
