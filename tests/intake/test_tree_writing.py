"""Trees of texts written as YAML: what stands in one line, and what is read back."""

from __future__ import annotations

import pytest

from deskmend.errors import FaultList
from deskmend.intake.reading.yaml_tree import YamlTree, parse_tree, to_plain, tree_text


def read(text: str) -> YamlTree:
    faults = FaultList("f")
    tree = parse_tree(text, "f", faults)
    assert tree is not None, list(faults)
    return tree


@pytest.mark.parametrize(("length", "lines"), [(88, 1), (89, 2)])
@pytest.mark.parametrize(
    ("value", "longer"), [("{b: %s}", "  b: %s\n"), ("[%s]", "  - %s\n")], ids=["keys", "list"]
)
def test_a_group_of_88_characters_stands_in_one_line(
    value: str, longer: str, length: int, lines: int
) -> None:
    word = "x" * (length - len(value % ""))
    tree = read(f"a: {value % word}\n")
    written = tree_text(tree.root)
    assert written == (f"a: {value % word}\n" if lines == 1 else "a:\n" + longer % word)
    assert to_plain(read(written).root) == to_plain(tree.root)
