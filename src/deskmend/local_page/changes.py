"""A case with something changed in it, as a new text that has been read back as a case."""

from __future__ import annotations

from collections.abc import Sequence

from deskmend.errors import DefectError, FaultList
from deskmend.intake.case_file import case_of_bytes
from deskmend.intake.reading.text_file import decoded
from deskmend.intake.reading.yaml_tree import MappingNode, ScalarNode, SequenceNode, parse_tree
from deskmend.intake.tree_writing import text_with, with_value

__all__ = ["with_wishes"]


def with_wishes(data: bytes, file: str, must: Sequence[str], never: Sequence[str]) -> str:
    """A case with these wishes; `InputFaults` where it is no case, before or then."""
    case_of_bytes(data, file)
    faults = FaultList(file)
    text = decoded(data, faults)
    tree = None if text is None else parse_tree(text, file, faults)
    faults.raise_if_any()
    if text is None or tree is None:
        raise DefectError("a case that was read cannot be read")
    entries = tuple(
        (ScalarNode(key, 0), SequenceNode(tuple(ScalarNode(name, 0) for name in names), 0))
        for key, names in (("must", must), ("never", never))
    )
    changed = text_with(text, with_value(tree.root, ("wishes",), MappingNode(entries, 0)))
    case_of_bytes(changed.encode("utf-8"), file)
    return changed
