"""A fix of one's own that begins as a copy of one of the catalog."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from deskmend.errors import DefectError, Fault
from deskmend.intake.catalog import Catalog, read_catalog
from deskmend.intake.catalog_records import Fix
from deskmend.intake.reading.yaml_tree import MappingNode, ScalarNode, SequenceNode, YamlNode, load_tree
from deskmend.intake.tree_writing import tree_text, with_value

__all__ = ["catalog_files", "copy_text", "trial_of"]


def catalog_files(folder: Path) -> dict[str, str]:
    """The files of a catalog's folder by path within it: fixes, items, sources, signs, advice and prices."""
    kinds = ("*.yaml", "fixes/*.yaml", "prices/*.csv")
    files = [file for kind in kinds for file in sorted(folder.glob(kind))]
    return {file.relative_to(folder).as_posix(): file.read_text(encoding="utf-8") for file in files}


def copy_text(catalog: Catalog, fix: Fix, name: str, title: str) -> str:
    """A file of fixes with one alone: the same as another but for its name and its title."""
    tree = load_tree(catalog.places[fix.id].file)
    node: YamlNode | None = next(
        (one for one in _fixes_in(tree.root) if ("id", fix.id) in _scalars(one).items()), None
    )
    if node is None:
        raise DefectError(f"no fix {fix.id} in {tree.file}")
    for key, text in (("id", name), ("title", title)):
        node = with_value(node, (key,), ScalarNode(text, 0))
    entries = (
        (ScalarNode("format", 0), ScalarNode("deskmend-fixes/1", 0)),
        (ScalarNode("fixes", 0), SequenceNode((node,), 0)),
    )
    remark = f"# Begun as a copy of {fix.id}. Change what differs, then run: deskmend check on the folder\n"
    return remark + tree_text(MappingNode(entries, 0))


def _fixes_in(root: YamlNode) -> tuple[YamlNode, ...]:
    if isinstance(root, MappingNode):
        for key, value in root.entries:
            if key.text == "fixes" and isinstance(value, SequenceNode):
                return tuple(value.items)
    return ()


def _scalars(node: YamlNode) -> dict[str, str]:
    """Keys of a mapping with single values."""
    entries = node.entries if isinstance(node, MappingNode) else ()
    return {key.text: value.text for key, value in entries if isinstance(value, ScalarNode)}


def trial_of(files: Mapping[str, str], trial: Path) -> tuple[Catalog | None, list[Fault]]:
    """Read a catalog as it would be with these files, written into a folder for trial."""
    for name, text in files.items():
        (trial / name).parent.mkdir(parents=True, exist_ok=True)
        (trial / name).write_text(text, encoding="utf-8")
    return read_catalog(trial)
