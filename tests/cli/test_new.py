"""``new --blank``: every key is there, the file can be read, check lists just what has to be filled in."""

from __future__ import annotations

import re
import types
import typing
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from deskmend.api import load_case, load_catalog
from deskmend.intake.case import Case
from deskmend.intake.reading.yaml_tree import read_tree

from .conftest import Run

FILLED = (
    (r"^  stature: ", "  stature: 1640 "),
    (r"^      height: (?=.*front edge)", "      height: 465 "),
    (r"^      height: (?=.*to the top)", "      height: 755 "),
    (r"^    hours: ", "    hours: 4 "),
    (r"^    main: ", "    main: laptop "),
)


@pytest.fixture
def blank(run: Run, tmp_path: Path) -> Path:
    file = tmp_path / "mine.yaml"
    assert run("new", str(file), "--blank").exit_code == 0
    return file


def test_blank_file_can_be_read_and_check_lists_what_to_fill_in(run: Run, blank: Path) -> None:
    tree, faults = read_tree(blank)
    assert tree is not None
    assert faults == []
    result = run("check", str(blank))
    assert result.exit_code == 2
    where = [line.split(": ")[1] for line in result.stdout.splitlines()]
    assert where == [
        "person.stature",
        "places.home.seat.height",
        "places.home.desk.height",
        "tasks.work.hours",
        "tasks.work.main",
    ]


def test_every_line_of_the_blank_file_can_be_put_to_use(blank: Path) -> None:
    text = re.sub(r"^#(?!#)", "", blank.read_text(encoding="utf-8"), flags=re.MULTILINE)
    for pattern, value in FILLED:
        text, count = re.subn(pattern, value, text, flags=re.MULTILINE)
        assert count == 1, pattern
    blank.write_text(text, encoding="utf-8")
    case = load_case(blank)
    assert case.person.stature == 1640
    assert case.places[0].other_seats[0].id == "stool"
    assert case.means.budget == 4000


def keys_of(model: Any, seen: set[Any]) -> set[str]:
    """All keys of a record and of the records within it."""
    if model in seen:
        return set()
    seen.add(model)
    keys: set[str] = set()
    for name, field in model.model_fields.items():
        keys.add(name)
        stack = [field.annotation]
        while stack:
            one = stack.pop()
            if (
                isinstance(one, type)
                and not isinstance(one, types.GenericAlias)
                and issubclass(one, BaseModel)
            ):
                keys |= keys_of(one, seen)
            stack += typing.get_args(one)
    return keys


def test_blank_file_names_every_key_of_a_case(blank: Path) -> None:
    text = blank.read_text(encoding="utf-8")
    keys = keys_of(Case, set())
    assert len(keys) > 80
    assert [key for key in sorted(keys) if not re.search(rf"\b{key}:", text)] == []


def test_blank_file_names_every_sign_and_thing_of_the_catalog(blank: Path) -> None:
    text = blank.read_text(encoding="utf-8")
    catalog = load_catalog()
    assert [s.id for s in catalog.signs if f"##   {s.id}: " not in text] == []
    assert [i for i in catalog.items if f"##   {i}: " not in text] == []
    assert "{signs}" not in text
    assert "{items}" not in text


def test_a_file_that_is_there_is_kept(run: Run, blank: Path) -> None:
    blank.write_text("mine", encoding="utf-8")
    result = run("new", str(blank), "--blank")
    assert result.exit_code == 2
    assert "is there already" in result.stderr
    assert blank.read_text(encoding="utf-8") == "mine"
    assert run("new", str(blank), "--blank", "--force").exit_code == 0
    assert blank.read_text(encoding="utf-8").startswith("## A case for deskmend")
    assert sorted(one.name for one in blank.parent.iterdir()) == ["mine.yaml"]


def test_a_folder_is_never_written_over(run: Run, tmp_path: Path) -> None:
    result = run("new", str(tmp_path), "--blank", "--force")
    assert result.exit_code == 2
    assert "is a folder" in result.stderr
