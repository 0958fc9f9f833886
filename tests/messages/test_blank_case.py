"""The empty case file asks for the same things in every language."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

import pytest
from click.testing import CliRunner

from deskmend.cli import deskmend
from deskmend.intake.catalog import load_catalog
from deskmend.language import LANGUAGES, reading
from deskmend.report.forms.blank import blank_case, case_pieces

REMARK = re.compile(r"\s+# .*$")
OWN_WORDS = re.compile(r"^#(title|notes): .*$")
CATALOG = load_catalog()


def blank_in(language: str) -> list[str]:
    with reading(language):
        return blank_case(CATALOG).splitlines()


def asked(lines: list[str]) -> list[str]:
    """Lines without remarks and without the example texts of title and notes."""
    return [OWN_WORDS.sub(r"#\1", REMARK.sub("", line)) for line in lines if not line.startswith("##")]


def remarks(lines: list[str]) -> list[str]:
    return [found[0] for line in lines if not line.startswith("##") and (found := REMARK.search(line))]


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_keys_and_examples_are_the_same(language: str) -> None:
    english, other = blank_in(LANGUAGES[0]), blank_in(language)
    assert len(asked(english)) > 100
    assert asked(other) == asked(english)
    assert len(remarks(other)) == len(remarks(english)) > 100


def test_the_pieces_hold_every_word_of_the_file() -> None:
    text = files("deskmend.report").joinpath("blank_case.yaml").read_text(encoding="utf-8")
    pieces = " ".join(f"{one.before} {one.words} {one.remark}" for one in case_pieces())
    assert pieces.replace("#", " ").split() == text.replace("#", " ").split()


def test_who_reads_english_is_not_told_what_english_words_are_for() -> None:
    told = "English words are those that deskmend understands"
    assert any(told in piece.words for piece in case_pieces())
    assert not any(told in line for line in blank_in(LANGUAGES[0]))
    assert any("Las palabras en inglés" in line for line in blank_in("es"))


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
