"""`python -m bubblegrade`: the commands, where the system does not find `bubblegrade` by its name."""

from __future__ import annotations

from bubblegrade.commands import main

if __name__ == "__main__":
    main()
