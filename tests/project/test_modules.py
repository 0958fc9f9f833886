"""Modules say what is inside, stay short, and explain themselves."""

from __future__ import annotations

import ast
from functools import cache

from .source_tree import module_files

VAGUE = {"utils", "util", "helpers", "helper", "common", "misc", "tools", "shared", "base", "core"}
"""Names that say nothing of what is inside."""
LONGEST = 700
"""Lines a module may have; 250 to 600 that tell one story are the aim."""


@cache
def said_and_defined() -> dict[str, tuple[str | None, tuple[str, ...]]]:
    """What each module says of itself, and the classes at its top."""
    found = {}
    for name, path in module_files().items():
        tree = ast.parse(path.read_text(encoding="utf-8"))
        classes = tuple(node.name for node in tree.body if isinstance(node, ast.ClassDef))
        found[name] = ast.get_docstring(tree), classes
    return found


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
    for name, (_, classes) in said_and_defined().items():
        for one in classes:
            if not one.startswith("_"):
                stands.setdefault(one, []).append(name)
    assert {name: where for name, where in stands.items() if len(where) > 1} == {}


def test_every_module_says_what_it_is() -> None:
    texts = {name: text for name, (text, _) in said_and_defined().items()}
    assert [name for name, text in texts.items() if text is None and not name.endswith("__main__")] == []
    ends = {name: text.splitlines()[0][-1] for name, text in texts.items() if text is not None}
    assert {name: end for name, end in ends.items() if end not in ".:?"} == {}
