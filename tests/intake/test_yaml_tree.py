"""YAML becomes a tree of texts with lines; what could blow up or be guessed is refused."""

import re

import pytest
import yaml
from hypothesis import assume, given
from hypothesis import strategies as st

from deskmend.errors import FaultList
from deskmend.intake.reading.yaml_tree import (
    MAX_DEPTH,
    MAX_NODES,
    MappingNode,
    YamlTree,
    parse_tree,
    to_plain,
)

BOTH = [
    pytest.param(True, id="pure"),
    pytest.param(
        False,
        id="compiled",
        marks=pytest.mark.skipif(not yaml.__with_libyaml__, reason="PyYAML was built without libyaml"),
    ),
]


def read(text: str, pure: bool) -> tuple[YamlTree | None, list[str]]:
    faults = FaultList("f")
    tree = parse_tree(text, "f", faults, pure=pure)
    return tree, [str(fault) for fault in faults]


@pytest.mark.parametrize("pure", BOTH)
def test_values_stay_text(pure: bool) -> None:
    text = 'a: no\nb: on\nc: 1:30\nd: 0x10\ne: 1e3\nf: ~\ng: null\nh: "1"\ni: 2024-01-01\nj:\nk: ""\nl: 007\n'
    tree, faults = read(text, pure)
    assert faults == []
    assert tree is not None
    assert to_plain(tree.root) == {
        **{"a": "no", "b": "on", "c": "1:30", "d": "0x10", "e": "1e3", "f": "~", "g": "null", "h": "1"},
        **{"i": "2024-01-01", "j": None, "k": "", "l": "007"},
    }


@pytest.mark.parametrize("pure", BOTH)
def test_lines(pure: bool) -> None:
    tree, _ = read("# note\na:\n  b:\n    - x\n    - c: y\n      d:\ne: |\n  text\n", pure)
    assert tree is not None
    assert tree.line_of(["a"]) == 2
    assert tree.line_of(["a", "b"]) == 3
    assert tree.line_of(["a", "b", 0]) == 4
    assert tree.line_of(["a", "b", 1, "c"]) == 5
    assert tree.line_of(["a", "b", 1, "d"]) == 6
    assert tree.line_of(["a", "missing"]) == 2
    assert tree.line_of(["a", "b", 9]) == 3
    assert tree.key_line(["e"]) == 7
    assert tree.line_of([]) == 2


@pytest.mark.parametrize("pure", BOTH)
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a: 1\nb: 2\na: 3\n", ':3: key written twice, first on line 1; read "a"'),
        ("a: &x 1\nb: *x\n", 'f:2: b: read "*x"; allowed no aliases'),
        ("a: &x 1\n", 'f:1: a: read "&x"; allowed no anchors'),
        ("a: !!python/object:os.system x\n", "allowed no tags"),
        ("a: !!binary aGk=\n", "allowed no tags"),
        ("a: 1\n---\nb: 2\n", "f:2: a second document; allowed one document"),
        ("? [a, b]\n: 1\n", "the key is not a single word"),
        ("a:\n\t- b\n", 'f:2: holds a tab; read "- b"; allowed spaces'),
        ("a: 1\t# note\n", "f:1: holds a tab"),
        ("a: [1, 2\nb: 3\n", "is not readable as YAML"),
        ('a: "open\nb: 1\n', "is not readable as YAML"),
        ('a: "\\U00110000"\n', "is not readable as YAML"),
        ("%YAML 9.9\n---\na: 1\n", "is not readable as YAML"),
        ("# only a note\n", "is empty"),
    ],
)
def test_what_is_refused(text: str, expected: str, pure: bool) -> None:
    _, faults = read(text, pure)
    assert any(expected in fault for fault in faults), faults


@pytest.mark.parametrize(
    ("text", "place", "hint"),
    [
        ('a: 1\nb: "open\nc: 1\n', "f:2: ", "a quotation mark is opened"),
        ("a: 1\nb: x: y\n", "f:2: ", "put quotes around"),
        ("a: 1\nb: [1, 2\n", "f:2: ", "a bracket is opened"),
        ("a: 1\nb\nc: 1\n", "f:3: ", 'a key needs ": " behind it'),
        ("a:\n  b: 1\n c: 2\n", "f:3: ", "begin at the same column"),
    ],
)
def test_advice_for_broken_yaml_is_the_same_on_every_machine(text: str, place: str, hint: str) -> None:
    _, faults = read(text, False)
    assert faults == read(text, True)[1]
    assert len(faults) == 1
    assert faults[0].startswith(place)
    assert hint in faults[0]


@pytest.mark.parametrize("pure", BOTH)
def test_a_lone_surrogate_is_no_character(pure: bool) -> None:
    _, faults = read('a: "\\ud800"\n', pure)
    assert len(faults) == 1
    assert faults[0].isascii()


@pytest.mark.parametrize("pure", BOTH)
def test_an_alias_bomb_is_never_unfolded(pure: bool) -> None:
    rows = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    rows += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 12)]
    _, faults = read("\n".join(rows), pure)
    assert sum("no aliases" in fault for fault in faults) == 99
    assert sum("no anchors" in fault for fault in faults) == 12


@pytest.mark.parametrize("pure", BOTH)
def test_depth(pure: bool) -> None:
    tree, faults = read("[" * MAX_DEPTH + "]" * MAX_DEPTH, pure)
    assert tree is not None
    assert faults == []
    for deep in ("[" * (MAX_DEPTH + 1) + "]" * (MAX_DEPTH + 1), "[" * 400_000, "{a: " * 100_000):
        tree, faults = read(deep, pure)
        assert tree is None
        assert "nested too deeply" in faults[0]


def test_number_of_values() -> None:
    tree, faults = read("[" + "x," * (MAX_NODES + 1) + "]", not yaml.__with_libyaml__)
    assert tree is None
    assert "too many values" in faults[0]


def test_many_repeated_keys_stop_at_the_bound() -> None:
    tree, faults = read("a: 1\n" * 5000, not yaml.__with_libyaml__)
    assert tree is None
    assert len(faults) <= 1001


@pytest.mark.parametrize("pure", BOTH)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends(pure: bool, end: str) -> None:
    tree, faults = read(end.join(["a: 1", "b:", "  c: 2"]), pure)
    assert faults == []
    assert tree is not None
    assert tree.line_of(["b", "c"]) == 3


@pytest.mark.skipif(not yaml.__with_libyaml__, reason="PyYAML was built without libyaml")
@given(st.text(alphabet="ab:-[]{},\"'#&*!|>%@ \n1?~\\", max_size=30))
def test_both_parsers_tell_the_same_story(text: str) -> None:
    # Known and left: a note glued to a block mark, the line of an explicit key without a word, and a mark of
    # two ! with other signs between, which is refused either way.
    assume(not re.search(r"[|>][-+0-9]*#|\?\s|![^\s!]+!", text))
    pure, pure_faults = read(text, True)
    compiled, compiled_faults = read(text, False)
    assert compiled_faults == pure_faults
    assert compiled == pure


def test_of_a_repeated_key_the_first_stays() -> None:
    tree, _ = read("a: 1\na: 2\n", True)
    assert tree is not None
    assert isinstance(tree.root, MappingNode)
    assert to_plain(tree.root) == {"a": "1"}


def test_a_file_is_read_where_there_is_no_compiled_parser(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(yaml, "__with_libyaml__", False)
    monkeypatch.delattr(yaml, "CSafeLoader", raising=False)
    for text, faults in (("a: b\n", 0), ("a: [b\n", 1)):
        tree, found = read(text, pure=False)
        assert (tree is None, len(found)) == (faults > 0, faults)
