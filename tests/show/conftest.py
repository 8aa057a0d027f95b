"""A terminal that keeps what is printed."""

from __future__ import annotations

import io

import pytest
from rich.console import Console


@pytest.fixture
def console() -> Console:
    """Return a wide terminal without colours."""
    return Console(file=io.StringIO(), width=200, color_system=None, highlight=False)
