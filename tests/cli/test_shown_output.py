"""What README and docs show is what the program says; every command and option explains itself."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from tests.stages import some

from deskmend.cli import deskmend, output

from .shown_output import (
    ROOT,
    Block,
    blocks,
    blocks_of,
    made_again,
    page_again,
    pages,
    standing_in,
    walked_through,
)

SHOWN = list(blocks())
FIRST_STEPS = [page for page in pages() if walked_through(page)]
AGAIN = "write the pages anew: python tests/cli/shown_output.py"


def commands_told(page: Path) -> list[str]:
    """Return the arguments of every command that stands in a block to type in, without remarks."""
    typed = re.findall(r"^```sh\n(.*?)^```", page.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
    return re.findall(r"^deskmend (.*?)(?: +#.*)?$", "".join(typed), re.MULTILINE)


@pytest.mark.parametrize("block", SHOWN, ids=[f"{block.file}: {block.arguments}" for block in SHOWN])
def test_output_shown_is_the_output_given(block: Block) -> None:
    assert block.shown == made_again(block), AGAIN


@pytest.mark.parametrize("page", some(FIRST_STEPS), ids=lambda page: page.stem)
def test_first_steps_walked_through_show_what_is_shown(page: Path) -> None:
    assert [block.shown for block in blocks_of(page)] == page_again(page), AGAIN


@pytest.mark.parametrize("page", FIRST_STEPS, ids=lambda page: page.stem)
def test_every_command_of_the_first_steps_shows_what_it_says(page: Path) -> None:
    """So no command stands there that nothing runs."""
    told = commands_told(page)
    shown = [block.arguments for block in blocks_of(page) if block.arguments is not None]
    assert told
    assert told == list(dict.fromkeys(shown))


def test_each_of_the_three_users_has_first_steps() -> None:
    assert [page.stem for page in FIRST_STEPS] == [
        f"first_steps_{user}" for user in ("assessor", "charity", "worker")
    ]


def test_readme_shows_a_plan_and_usage_shows_every_help() -> None:
    plan = "plan scenarios/kitchen_books/case.yaml"
    assert plan in [block.arguments for block in SHOWN if block.file == "README.md"]
    helped = {block.arguments for block in SHOWN if block.file == "usage.md"}
    assert helped >= {"--help", *(f"{name} --help" for name in deskmend.commands)}


@pytest.mark.parametrize("name", sorted(deskmend.commands))
def test_every_command_and_option_has_help(name: str) -> None:
    command = deskmend.commands[name]
    assert command.help
    assert command.short_help
    options = [one for one in command.params if isinstance(one, click.Option)]
    assert [one.name for one in options if not one.help] == []
    arguments = [one for one in command.params if isinstance(one, click.Argument)]
    for argument in arguments:
        assert argument.make_metavar(click.Context(command)).strip("[].") in command.help


def test_readme_begins_with_two_commands_that_set_up_and_run() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert ".venv/bin/pip install . && .venv/bin/deskmend plan scenarios/kitchen_books/case.yaml" in text
    assert ".venv/bin/pip install -e '.[test]' && .venv/bin/python -m pytest" in text


@pytest.mark.thorough
def test_every_command_of_readme_runs(tmp_path: Path) -> None:
    """``mine.yaml`` stands for a case that ships; nobody answers the interview, so it stops as told.

    The local page goes on until it is stopped: `tests/local_page` opens it, here only its help is asked for.
    """
    told = commands_told(ROOT / "README.md")
    assert {line.split()[0] for line in told} >= set("new check assess plan compare report allocate".split())
    shutil.copytree(ROOT / "scenarios", tmp_path / "scenarios")
    runner = CliRunner()
    ended = {}
    with standing_in(tmp_path):
        for line in told:
            words = shlex.split(line)
            if words[0] == "open":
                words = ["open", "--help"]
            if words[0] == "new":
                Path("mine.yaml").unlink(missing_ok=True)
            elif "mine.yaml" in words:
                shutil.copytree(ROOT / "scenarios" / "counter_calls", tmp_path, dirs_exist_ok=True)
                Path("case.yaml").replace("mine.yaml")
                shutil.copy("mine.yaml", "after.yaml")
            ended[line] = runner.invoke(deskmend, words).exit_code
    stopped = "new mine.yaml"
    assert ended == {line: output.INTERRUPTED if line == stopped else output.DONE for line in told}
