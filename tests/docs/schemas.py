"""The JSON Schemas of ``docs/schemas``, made from the records of `report`, ``*_documents.py``, and those of
the files that people write, made from the records that read them.

``python -m tests.docs.schemas`` writes them. Whoever adds a key to a document adds it to its record, runs
this and is done.
"""

from __future__ import annotations

import json
import pickle
import sys
from functools import cache
from hashlib import blake2b
from pathlib import Path
from typing import Any, get_args, get_type_hints

from jsonschema import Draft202012Validator
from pydantic import BaseModel, ConfigDict, TypeAdapter
from typing_extensions import is_typeddict

from deskmend.intake.case import Case
from deskmend.intake.case_file import Sender
from deskmend.picture.marks import MarksRecord
from deskmend.report import case_documents, casebook_documents, other_documents

MODULES = (case_documents, casebook_documents, other_documents)
RECORDS = [one for module in MODULES for one in vars(module).values() if is_typeddict(one)]
DOCUMENTS = sorted({one for one in RECORDS if "format" in get_type_hints(one)}, key=lambda one: one.__name__)
"""Records that are documents: they say their format."""
FILES: list[type[BaseModel]] = [Case, MarksRecord, Sender]
"""Records of files that people or programs write: schemas say what may stand there, loaders are stricter."""
FOLDER = Path(__file__).resolve().parents[2] / "docs" / "schemas"
DIALECT = "https://json-schema.org/draft/2020-12/schema"


def format_of(document: type) -> str:
    """Format that a document says it has, as ``deskmend-plan/1``."""
    (name,) = get_args(get_type_hints(document)["format"])
    return str(name)


def file_of(format_name: str) -> Path:
    """File of the schema of a format."""
    return FOLDER / f"{format_name.replace('/', '-')}.schema.json"


@cache
def _closed() -> None:
    """Let no record take a key that it does not name."""
    for one in RECORDS:
        one.__pydantic_config__ = ConfigDict(extra="forbid")


def schema_of(document: type) -> dict[str, Any]:
    """Schema of one document, or of a file that people write."""
    _closed()
    made = document.model_json_schema() if document in FILES else TypeAdapter(document).json_schema()
    return {"$schema": DIALECT, "$id": file_of(format_of(document)).name} | made


def schema_text(document: type) -> str:
    """Schema as its file holds it."""
    return json.dumps(schema_of(document), indent=2, ensure_ascii=True, sort_keys=True) + "\n"


@cache
def validators() -> dict[str, Draft202012Validator]:
    """Judges of documents by format, from the files; a format without a file has none."""
    found = {}
    for file in sorted(FOLDER.glob("*.schema.json")):
        schema = json.loads(file.read_text(encoding="utf-8"))
        form = schema["properties"]["format"]
        name = form["const"] if "const" in form else form["anyOf"][0]["const"]
        found[name] = Draft202012Validator(schema)
    return found


HELD: dict[bytes, list[str]] = {}
"""What each document that was looked at has against it."""


def faults_of(document: Any) -> list[str]:
    """What of a document its schema does not allow; that it has no schema is one fault."""
    name = document.get("format")
    if name not in validators():
        return [f"no schema for {name}: add its record and run python -m tests.docs.schemas"]
    # many tests read the same few files and write the same few documents
    known = blake2b(pickle.dumps(document, protocol=5)).digest()
    if known not in HELD:
        errors = validators()[name].iter_errors(document)
        HELD[known] = [f"{name}: {error.json_path}: {error.message[:300]}" for error in errors]
    return HELD[known]


def held_file(plain: Any, model: type) -> None:
    """Hold what was read of a file without fault against its schema; other records have none."""
    if model in FILES:
        faults = faults_of(plain)
        assert not faults, faults


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    wanted = {file_of(format_of(one)): schema_text(one) for one in (*DOCUMENTS, *FILES)}
    for file in set(FOLDER.glob("*.schema.json")) - set(wanted):
        file.unlink()
    for file, text in wanted.items():
        file.write_text(text, encoding="utf-8")
        sys.stdout.write(f"{file.name}\n")


if __name__ == "__main__":
    main()
