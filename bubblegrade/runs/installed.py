"""What is installed, and what could be besides; told without loading any of it."""

from __future__ import annotations

import platform
import re
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, requires, version
from typing import Final

# Each extra that widens what can be done: a package that it brings and what it is for.
EXTRAS: Final = {
    "heic": ("pillow-heif", "HEIC pictures, as phones take them"),
    "raw": ("rawpy", "camera raw and DNG"),
    "bench": ("starlette", "the page in the browser"),
    "parquet": ("pyarrow", "tables as Parquet too (--parquet)"),
    "cluster": ("distributed", "grading on a Dask cluster (--cluster)"),
}


@dataclass(frozen=True)
class Extra:
    """Something that may be installed besides."""

    name: str
    package: str
    purpose: str
    version: str | None  # None where it is not installed

    @property
    def cure(self) -> str:
        """How to install it."""
        return f"pip install 'bubblegrade[{self.name}]'"


def libraries(installed: Callable[[str], str] = version) -> dict[str, str]:
    """Return Python and the libraries that bubblegrade needs, with their versions."""
    needed = [
        re.split(r"[^\w.-]", line, maxsplit=1)[0] for line in requires("bubblegrade") or () if "extra" not in line
    ]
    return {"Python": platform.python_version(), **{name: installed(name) for name in sorted(needed)}}


def extras(installed: Callable[[str], str] = version) -> tuple[Extra, ...]:
    """Return what may be installed besides."""

    def found(package: str) -> str | None:
        try:
            return installed(package)
        except PackageNotFoundError:
            return None

    return tuple(Extra(name, package, purpose, found(package)) for name, (package, purpose) in EXTRAS.items())
