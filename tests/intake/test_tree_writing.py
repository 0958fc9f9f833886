"""Trees of texts written as YAML: what stands in one line, and what is read back."""

from __future__ import annotations

import pytest

from deskmend.errors import FaultList
from deskmend.intake.reading.yaml_tree import (
    ScalarNode,
    YamlTree,
    parse_tree,
    text_with,
    to_plain,
    tree_text,
    with_value,
)


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


def changed(text: str, **values: str) -> str:
    """A text with some of its plain values written over."""
    root = read(text).root
    for key, value in values.items():
        root = with_value(root, (key,), ScalarNode(value, 0))
    return text_with(text, root)


@pytest.mark.parametrize(
    ("text", "values", "written"),
    [
        # nothing changes, nothing is written anew, also where the last line has no end
        ("# a\nhue: 3 # b\nhem: {w: 1}", {}, "# a\nhue: 3 # b\nhem: {w: 1}"),
        # a remark stays with what stands below it, and goes with the value it stands beside
        ("# a\nhue: 3 # b\n\n# c\nhem: 4\n", {"hue": "5"}, "# a\nhue: 5\n\n# c\nhem: 4\n"),
        # a last line without an end is given one before something is written behind it, others keep theirs
        ("hue: 3", {"hem": "4"}, "hue: 3\nhem: 4\n"),
        ("hue: 3\n", {"hem": "4"}, "hue: 3\nhem: 4\n"),
        ("hue: 3\n\n", {"hem": "4"}, "hue: 3\n\nhem: 4\n"),
        # what is not written key by key is written anew
        ("{hue: 3, hem: 4}\n", {"hue": "5"}, "hue: 5\nhem: 4\n"),
    ],
)
def test_what_is_not_changed_stays_to_the_letter(text: str, values: dict[str, str], written: str) -> None:
    assert changed(text, **values) == written
