"""Schemas are those of the records, and a document that does not keep to its own is noticed."""

from __future__ import annotations

import json
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from tests.docs.schemas import DOCUMENTS, FILES, FOLDER, faults_of, file_of, format_of, held_file, schema_text
from tests.planning.cases import plain
from tests.stages import each

from deskmend.intake.case import Case, Discomfort
from deskmend.report.documents import json_text

AGAIN = "run python -m tests.docs.schemas"
NAMES = [format_of(one) for one in (*DOCUMENTS, *FILES)]
WRITTEN = {"format": "deskmend-written/1", "file": "mine.yaml"}


@each("document", [*DOCUMENTS, *FILES])
def test_a_schema_is_current_and_sound(document: type) -> None:
    text = file_of(format_of(document)).read_text(encoding="utf-8")
    assert text == schema_text(document), AGAIN
    Draft202012Validator.check_schema(json.loads(text))


def test_there_is_a_schema_for_every_document_and_for_nothing_else() -> None:
    assert {one.name for one in FOLDER.iterdir()} == {file_of(name).name for name in NAMES}


@pytest.mark.parametrize(
    ("document", "told"),
    [
        (WRITTEN, None),
        (WRITTEN | {"more": 1}, "'more' was unexpected"),
        ({"format": "deskmend-written/1"}, "'file' is a required property"),
        (WRITTEN | {"file": None}, "None is not of type 'string'"),
        ({"format": "deskmend-unheard/1"}, "no schema for deskmend-unheard/1"),
    ],
)
def test_what_a_schema_does_not_allow_is_told(document: dict[str, Any], told: str | None) -> None:
    found = faults_of(document)
    assert (found == []) if told is None else (told in found[0])


def test_every_document_written_in_tests_is_held_against_its_schema() -> None:
    """Whatever writes JSON goes through one writer, and there every test stands watch."""
    with pytest.raises(AssertionError, match="unexpected"):
        json_text(WRITTEN | {"more": 1})


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({}, None),
        ({"person__stature": {"value": "1630", "sd": "9", "from": "told"}}, None),
        ({"places__0__feet_on": None, "places__0__seat__back": "unknown"}, None),
        ({"person__body": []}, "person"),
        ({"person__sex": "other"}, "sex"),
        ({"tasks__0__hour": "6"}, "tasks"),
        ({"places__0__desk__height_range": ["700"]}, "places"),
    ],
)
def test_a_case_as_it_is_written_is_held_against_its_schema(
    changes: dict[str, Any], told: str | None
) -> None:
    found = faults_of(plain(**changes))
    assert (found == []) if told is None else (found and told in found[0])


def test_every_file_that_tests_read_without_fault_keeps_to_its_schema() -> None:
    """Cases, marks and senders go through one reader of records, and there every test stands watch."""
    with pytest.raises(AssertionError, match="no schema for deskmend-unheard/1"):
        held_file({"format": "deskmend-unheard/1"}, Case)
    held_file({"format": "deskmend-unheard/1"}, Discomfort)
