"""The empty case file asks for the same things in every language."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

import pytest
from click.testing import CliRunner

from deskmend.cli import deskmend
from deskmend.language import LANGUAGES

REMARK = re.compile(r"\s+# .*$")
OWN_WORDS = re.compile(r"^#(title|notes): .*$")


def asked(template: str) -> list[str]:
    """Lines without remarks and without the example texts of title and notes."""
    text = files("deskmend.report").joinpath(template).read_text(encoding="utf-8")
    lines = [REMARK.sub("", line) for line in text.splitlines() if not re.match(r"## (?!\{)|##$", line)]
    return [OWN_WORDS.sub(r"#\1", line) for line in lines]


def remarks(template: str) -> list[str]:
    text = files("deskmend.report").joinpath(template).read_text(encoding="utf-8")
    return [line for line in text.splitlines() if REMARK.search(line) and not line.startswith("##")]


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_keys_and_examples_are_the_same(language: str) -> None:
    other = f"blank_case.{language}.yaml"
    assert asked(other) == asked("blank_case.yaml")
    assert len(remarks(other)) == len(remarks("blank_case.yaml"))


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_the_same_faults_are_found(language: str, tmp_path: Path) -> None:
    told = []
    for one in (LANGUAGES[0], language):
        file = tmp_path / "case.yaml"
        done = CliRunner().invoke(
            deskmend, ["new", str(file), "--blank", "--force", "--quiet", "--language", one]
        )
        assert done.exit_code == 0
        checked = CliRunner().invoke(deskmend, ["check", str(file)]).stdout
        told.append(re.sub(r":\d+:", ":", checked))
    assert "missing" in told[0]
    assert told[0] == told[1]
