"""What a shell is told of what could come next; the scripts are click's own."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from .conftest import ROOT


def told(instruction: str, words: str, place: int | str) -> list[str]:
    """What is told of what could come at a place among words; fish names the word, others its number."""
    environment = {
        **os.environ,
        "PYTHONPATH": str(ROOT / "src"),
        "_DESKMEND_COMPLETE": instruction,
        "COMP_WORDS": words,
        "COMP_CWORD": str(place),
    }
    done = subprocess.run(
        [sys.executable, "-m", "deskmend"], env=environment, capture_output=True, text=True, timeout=120
    )
    assert done.stderr == ""
    return done.stdout.splitlines()


def test_each_shell_is_told_the_commands() -> None:
    assert told("bash_complete", "deskmend pl", 1) == ["plain,plan"]
    help_text = "Find the best fixes for the money and time at hand."
    assert told("zsh_complete", "deskmend pl", 1) == ["plain", "plan", help_text]
    assert told("fish_complete", "deskmend plan", "plan") == [f"plain,plan\t{help_text}"]


def test_options_words_and_files_are_told() -> None:
    assert told("bash_complete", "deskmend plan --ne", 2) == ["plain,--never"]
    assert told("bash_complete", "deskmend new --language e", 3) == ["plain,en", "plain,es"]
    assert told("bash_complete", "deskmend plan ca", 2) == ["file,ca"]
    assert told("bash_complete", "deskmend plan --catalog ca", 3) == ["dir,ca"]


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
def test_bash_fills_in_a_command(tmp_path: Path) -> None:
    command = tmp_path / "deskmend"
    command.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m deskmend "$@"\n', encoding="utf-8")
    command.chmod(0o755)
    script = (
        'eval "$(_DESKMEND_COMPLETE=bash_source deskmend)"; COMP_WORDS=(deskmend ass); COMP_CWORD=1; '
        "_deskmend_completion deskmend; complete -p deskmend; echo ${COMPREPLY[@]}"
    )
    path = f"{tmp_path}{os.pathsep}{os.environ['PATH']}"
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "PATH": path}
    done = subprocess.run(
        ["bash", "-c", script], env=environment, capture_output=True, text=True, check=True, timeout=120
    )
    assert done.stdout.splitlines()[-1] == "assess"
    assert "_deskmend_completion deskmend" in done.stdout


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_gets_its_script(shell: str) -> None:
    script = "\n".join(told(f"{shell}_source", "", 0))
    assert f"_DESKMEND_COMPLETE={shell}_complete" in script
    assert "deskmend" in script
