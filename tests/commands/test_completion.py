"""What the shell offers where an option takes one of a few words."""

from __future__ import annotations

import pytest
from click.shell_completion import ShellComplete

from bubblegrade.commands import main
from bubblegrade.commands.inspect import PRESET_NAMES


@pytest.mark.parametrize(
    ("written", "begun", "offered"),
    [
        (["inspect", "--preset"], "", list(PRESET_NAMES)),
        (["inspect", "--preset"], "p", ["pendant"]),
        (["log", "add", "--line"], "", ["open", "shut"]),
        (["log", "untie", "12", "--only"], "ho", ["hold"]),
        (["shrink", "--pour"], "l", ["left"]),
    ],
)
def test_the_words_that_an_option_takes_are_offered(written: list[str], begun: str, offered: list[str]) -> None:
    shell = ShellComplete(main, {}, "bubblegrade", "_BUBBLEGRADE_COMPLETE")
    assert [item.value for item in shell.get_completions(written, begun)] == offered
