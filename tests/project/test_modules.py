"""Modules say what is inside, stay short, and explain themselves."""

from __future__ import annotations

import ast

from .source_tree import module_files

VAGUE = {"utils", "util", "helpers", "helper", "common", "misc", "tools", "shared", "base", "core"}
"""Names that say nothing of what is inside."""
LONGEST = 700
"""Lines a module may have; 250 to 600 that tell one story are the aim."""


def test_names_say_what_is_inside() -> None:
    vague = [name for name in module_files() if set(name.strip("_").split(".")) & VAGUE]
    assert vague == []


def test_modules_stay_short() -> None:
    lengths = {
        name: len(path.read_text(encoding="utf-8").splitlines()) for name, path in module_files().items()
    }
    assert {name: lines for name, lines in lengths.items() if lines > LONGEST} == {}


def test_a_class_name_means_one_thing() -> None:
    stands: dict[str, list[str]] = {}
    for name, path in module_files().items():
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                stands.setdefault(node.name, []).append(name)
    assert {name: where for name, where in stands.items() if len(where) > 1} == {}


def test_every_module_says_what_it_is() -> None:
    texts = {
        name: ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
        for name, path in module_files().items()
    }
    assert [name for name, text in texts.items() if text is None and not name.endswith("__main__")] == []
    ends = {name: text.splitlines()[0][-1] for name, text in texts.items() if text is not None}
    assert {name: end for name, end in ends.items() if end not in ".:?"} == {}
