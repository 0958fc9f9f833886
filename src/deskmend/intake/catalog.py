"""Loading a catalog folder, laying over it what was learned, copying a fix of it, telling catalogs apart.

A catalog is checked for itself here: ids once, names that something answers to. Whether its fields and
quantities exist is checked by `deskmend.planning.catalog_check`, which knows the model. And it knows
whether a wish names something that it and a case have, whatever is on offer there.
"""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from pathlib import Path
from typing import Annotated, Literal, TypeVar

from pydantic import BaseModel, Field

from deskmend.errors import DefectError, Fault, FaultList, InputFaults, did_you_mean
from deskmend.intake.case import Case, Place, Task
from deskmend.intake.catalog_records import (
    PEOPLE,
    SHARE,
    Advice,
    AdviceFile,
    CatalogItem,
    Fix,
    FixFile,
    ItemFile,
    KeptUp,
    Sign,
    SignFile,
    Source,
    SourceFile,
    number_between,
)
from deskmend.intake.reading.fields import ID, word
from deskmend.intake.reading.records import Record, read_records
from deskmend.intake.reading.text_file import ALLOWED_FIX_NAME, parse_fix_name
from deskmend.intake.reading.yaml_tree import (
    MappingNode,
    ScalarNode,
    SequenceNode,
    YamlNode,
    YamlTree,
    load_tree,
    tree_text,
    with_value,
)

_R = TypeVar("_R", bound=BaseModel)

MAX_FIX_FILES = 200
"""Most fix files taken from one folder."""


def shipped_folder(name: str) -> Path:
    """Return a folder that ships with deskmend, ``catalog`` or ``scenarios``.

    It lies inside the installed package, or in a checkout beside ``src``; FileNotFoundError where the
    installation has neither.
    """
    package = Path(__file__).resolve().parents[1]
    for folder in (package / f"_{name}", package.parents[1] / name):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"the {name} folder is missing from this installation")


@dataclass(frozen=True)
class FixPlace:
    """Where a fix stands, for messages."""

    file: str
    line: int


@dataclass(frozen=True)
class Catalog:
    """A checked catalog."""

    folder: Path
    fixes: tuple[Fix, ...]
    """In catalog order: files by name, fixes as written."""
    items: Mapping[str, CatalogItem]
    sources: Mapping[str, Source]
    """What findings cite, by key."""
    signs: tuple[Sign, ...]
    places: Mapping[str, FixPlace]
    """File and line of each fix."""
    advice: tuple[Advice, ...] = ()
    """What only informs; empty where there is no ``advice.yaml``."""

    @cached_property
    def by_id(self) -> dict[str, Fix]:
        """Fixes by id."""
        return {fix.id: fix for fix in self.fixes}

    @property
    def price_folder(self) -> Path:
        """Where the shipped price tables are."""
        return self.folder / "prices"


def load_catalog(path: str | Path | None = None) -> Catalog:
    """Load a catalog folder.

    Parameters
    ----------
    path : str, Path or None
        The folder; None for the shipped one.

    Returns
    -------
    Catalog
        Checked for itself.

    Raises
    ------
    InputFaults
        Every fault of every file.
    """
    if path is None:
        return _shipped()
    catalog, faults = read_catalog(path)
    if catalog is None or faults:
        raise InputFaults(faults)
    return catalog


@cache
def _shipped() -> Catalog:
    """The catalog that comes with deskmend, read once a process."""
    return load_catalog(shipped_folder("catalog"))


def read_catalog(path: str | Path | None = None) -> tuple[Catalog | None, list[Fault]]:
    """Read as much of a catalog folder as can be read, for checking; the shipped one if left out.

    None, with the faults, where items, sources or signs could not be read.
    """
    folder = Path(path) if path is not None else shipped_folder("catalog")
    if not folder.is_dir():
        allowed = "a folder with fixes, items and sources"
        return None, [Fault(str(path), None, "catalog", str(path), allowed)]
    files = sorted((folder / "fixes").glob("*.yaml"))
    if not files or len(files) > MAX_FIX_FILES:
        allowed = f"1 to {MAX_FIX_FILES} files fixes/*.yaml"
        return None, [Fault(str(folder), None, "fixes", str(len(files)), allowed)]
    faults: list[Fault] = []
    families = [_read(file, FixFile, faults) for file in files]
    fixes, places = _fixes([read for read in families if read is not None], faults)
    items = _read(folder / "items.yaml", ItemFile, faults)
    sources = _read(folder / "sources.yaml", SourceFile, faults)
    signs = _read(folder / "screening.yaml", SignFile, faults)
    advice_file = folder / "advice.yaml"
    advice = _read(advice_file, AdviceFile, faults) if advice_file.exists() else None
    if items is None or sources is None or signs is None:
        return None, faults
    _repeats(items[1], "items", "id", [one.id for one in items[0].items], faults)
    _repeats(sources[1], "sources", "key", [one.key for one in sources[0].sources], faults)
    _repeats(signs[1], "signs", "id", [one.id for one in signs[0].signs], faults)
    if advice is not None:
        _repeats(advice[1], "advice", "id", [one.id for one in advice[0].advice], faults)
    catalog = Catalog(
        folder,
        tuple(fixes),
        {item.id: item for item in items[0].items},
        {source.key: source for source in sources[0].sources},
        signs[0].signs,
        {fix.id: places[fix.id.lower()] for fix in fixes},
        () if advice is None else advice[0].advice,
    )
    faults.extend(_unresolved(catalog, whole=None not in families))
    if advice is not None:
        faults.extend(_uncited_advice(catalog, advice[1]))
    return replace(catalog, fixes=_each_way(catalog.fixes)), faults


def _each_way(fixes: tuple[Fix, ...]) -> tuple[Fix, ...]:
    """Fixes with every conflict at both that are in it, whichever names the other; in catalog order."""
    rivals: dict[str, set[str]] = {fix.id: set() for fix in fixes}
    for fix in fixes:
        for other in fix.conflicts:
            rivals[fix.id].add(other)
            rivals.setdefault(other, set()).add(fix.id)
    order = {name: number for number, name in enumerate(rivals)}
    return tuple(
        fix.model_copy(update={"conflicts": tuple(sorted(rivals[fix.id], key=order.__getitem__))})
        if rivals[fix.id]
        else fix
        for fix in fixes
    )


def _fixes(
    families: Iterable[tuple[FixFile, YamlTree]], faults: list[Fault]
) -> tuple[list[Fix], dict[str, FixPlace]]:
    """Fixes in catalog order, and where each stands by its id in small letters."""
    fixes: list[Fix] = []
    places: dict[str, FixPlace] = {}
    for record, tree in families:
        for number, fix in enumerate(record.fixes):
            place = FixPlace(tree.file, tree.line_of(("fixes", number, "id")))
            if fix.id.lower() in places:
                other = places[fix.id.lower()]
                allowed = f"an id of its own; {other.file}:{other.line} has it already"
                faults.append(Fault(place.file, place.line, f"fixes.{fix.id}", fix.id, allowed))
            places[fix.id.lower()] = place
            fixes.append(fix)
    return fixes, places


def _read(file: Path, model: type[_R], faults: list[Fault]) -> tuple[_R, YamlTree] | None:
    try:
        tree = load_tree(file)
    except InputFaults as error:
        faults.extend(error.faults)
        return None
    record, found = read_records(tree, model)
    faults.extend(found)
    return None if record is None else (record, tree)


def _repeats(tree: YamlTree, group: str, key: str, ids: Sequence[str], faults: list[Fault]) -> None:
    seen: set[str] = set()
    for number, one in enumerate(ids):
        if one.lower() in seen:
            line = tree.line_of((group, number, key))
            faults.append(Fault(tree.file, line, f"{group}.{one}", one, "an id of its own"))
        seen.add(one.lower())


_ANSWERED_BY = {"materials": "an item", "conflicts": "a fix", "evidence": "a source"}


def _unresolved(catalog: Catalog, whole: bool) -> Iterable[Fault]:
    """Names that nothing answers to; fixes and decisions only where no file of fixes is missing."""
    fix_ids = [fix.id for fix in catalog.fixes]
    decisions = {fix.decision for fix in catalog.fixes}
    sign_ids = [sign.id for sign in catalog.signs]
    keys = list(catalog.sources)
    items = list(catalog.items)
    for fix in catalog.fixes:
        asked: list[tuple[str, str, list[str]]]
        asked = [("materials", m.item, items) for m in fix.materials]
        asked += [("materials", m.instead, items) for m in fix.materials if m.instead is not None]
        asked += [("watch", w.item, items) for w in fix.watch if w.item is not None]
        asked += [("size.pieces", fix.size.pieces, items)] if fix.size and fix.size.pieces else []
        asked += [("conflicts", other, fix_ids) for other in fix.conflicts if whole]
        asked += [("evidence", note.source, keys) for note in fix.evidence]
        asked += [("not_for", c.sign, sign_ids) for c in fix.not_for if c.sign is not None]
        if fix.kept_up is not None:
            asked += [("kept_up.sources", key, keys) for key in fix.kept_up.sources]
        if fix.often_dropped is not None:
            asked += [("often_dropped.source", fix.often_dropped.source, keys)]
            if fix.often_dropped.fix is not None and whole:
                asked += [("often_dropped.fix", fix.often_dropped.fix, fix_ids)]
        place = catalog.places[fix.id]
        for where, name, known in asked:
            if name not in known:
                allowed = _ANSWERED_BY.get(where, "a known id")
                hint = did_you_mean(name, known)
                yield Fault(place.file, place.line, f"fixes.{fix.id}.{where}", name, allowed, hint)
    file = str(catalog.folder / "screening.yaml")
    for sign in catalog.signs if whole else ():
        for decision in sign.blocks:
            if decision not in decisions:
                hint = did_you_mean(decision, decisions)
                yield Fault(file, None, f"signs.{sign.id}.blocks", decision, "a decision of some fix", hint)


def _uncited_advice(catalog: Catalog, tree: YamlTree) -> Iterable[Fault]:
    keys = list(catalog.sources)
    for number, one in enumerate(catalog.advice):
        line = tree.line_of(("advice", number, "id"))
        if not one.evidence:
            yield Fault(tree.file, line, f"advice.{one.id}.evidence", "none", "at least one note")
        for note in one.evidence:
            if note.source not in keys:
                hint = did_you_mean(note.source, keys)
                yield Fault(tree.file, line, f"advice.{one.id}.evidence", note.source, "a source", hint)


def misnamed(text: str, case: Case | None, catalog: Catalog) -> tuple[str, str] | None:
    """Tell what would be allowed in place of a name that means nothing here, and a hint; else None.

    Without a case it is not known which places, tasks and seats there are.

    A fix that must not be in the plan is no fault where it is not on offer; a misspelt one would be passed
    over in silence, and the plan might hold what was refused.
    """
    name = parse_fix_name(text)
    if name is None:
        return ALLOWED_FIX_NAME, ""
    fix = next((fix for fix in catalog.fixes if fix.id.lower() == name.fix.lower()), None)
    if fix is None:
        return "a fix of the catalog", did_you_mean(name.fix, catalog.by_id)
    if case is None:
        return None
    if name.prefix is not None:
        owners = [one.id for one in _owners(fix, case)]
        if not owners:
            return f"{fix.id} without a place or task before it", ""
        if name.prefix.lower() not in (one.lower() for one in owners):
            return f"one of {', '.join(owners)} before the point", did_you_mean(name.prefix, owners)
    return None if name.value is None else _missized(name.value, fix, case)


def _owners(fix: Fix, case: Case) -> tuple[Place | Task, ...]:
    if fix.scope == "place":
        return case.places
    return case.tasks if fix.scope == "task" else ()


def _missized(value: str, fix: Fix, case: Case) -> tuple[str, str] | None:
    size = fix.size
    if size is None:
        return f"{fix.id} without a value", ""
    words = list(size.words)
    if size.of == "places":
        words = [place.id for place in case.places]
    elif size.of == "other_seats":
        words = [seat.id for place in case.places for seat in place.other_seats]
    elif not words:
        try:
            float(value)
        except ValueError:
            return f"{fix.id}=VALUE with a number", ""
        return None
    if value.lower() in (word.lower() for word in words):
        return None
    return f"{fix.id}=VALUE with one of {', '.join(words)}", did_you_mean(value, words)


_KEPT = number_between("a whole number of people", 0, 10_000_000, whole=True)
_WEIGHT = number_between("a number of cases up to 1000", 0, 1000)


class LearnedShare(Record):
    """What was learned of one fix."""

    id: Annotated[str, ID]
    """Name of a fix that the catalog has a figure for."""
    share: Annotated[float, SHARE]
    """Of all days, 0 to 1."""
    cases: Annotated[int, PEOPLE]
    """People who did it."""
    kept: Annotated[int, _KEPT]
    """Those of them who still do it."""
    weight: Annotated[float, _WEIGHT]
    """Cases that the catalog's figure counts for."""


class LearnedFile(Record):
    """All that was learned."""

    format: Annotated[str, word(Literal["deskmend-learned/1"])]
    """Format and version."""
    fixes: Annotated[tuple[LearnedShare, ...], Field(max_length=1000)]
    """One a fix."""


class KeptUpHere(KeptUp):
    """The figure of a catalog weighed against what was counted.

    That one who still does it does it on all days, and one who gave it up on none, is a judgement.
    """

    cases: int
    """People who did it."""
    kept: int
    """Those of them who still do it."""
    weight: float
    """Cases that the catalog's figure counts for."""


def load_learned(catalog: Catalog, path: str | Path) -> Catalog:
    """Lay what was learned over a catalog.

    Parameters
    ----------
    catalog : Catalog
        From `load_catalog`.
    path : str or Path
        A file of format ``deskmend-learned/1``, as ``deskmend casebook learn --out`` writes it.

    Returns
    -------
    Catalog
        With the parts of the days [-] learned in place of its own.

    Raises
    ------
    InputFaults
        The file cannot be read, or names a fix that the catalog has no such figure for.
    """
    tree = load_tree(path)
    read, found = read_records(tree, LearnedFile)
    faults = FaultList(str(path))
    faults.extend(found)
    figures = {fix.id: fix.kept_up for fix in catalog.fixes if fix.kept_up is not None}
    learned: dict[str, KeptUpHere] = {}
    for number, one in enumerate(() if read is None else read.fixes):
        line = tree.line_of(("fixes", number, "id"))
        figure = figures.get(one.id)
        if figure is None:
            hint = did_you_mean(one.id, figures)
            faults.add(line, f"fixes.{one.id}", one.id, "a fix with kept_up in the catalog", hint)
        elif one.id in learned:
            faults.add(line, f"fixes.{one.id}", one.id, "each fix once")
        elif one.kept > one.cases:
            faults.add(line, f"fixes.{one.id}.kept", str(one.kept), f"at most {one.cases}, the cases")
        else:
            learned[one.id] = KeptUpHere(
                share=one.share,
                sources=figure.sources,
                why=figure.why,
                status="judgement",
                cases=one.cases,
                kept=one.kept,
                weight=one.weight,
            )
    faults.raise_if_any()
    fixes = tuple(
        fix.model_copy(update={"kept_up": learned[fix.id]}) if fix.id in learned else fix
        for fix in catalog.fixes
    )
    return replace(catalog, fixes=fixes)


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


def text_digest(text: str | bytes) -> str:
    """SHA-256 of a file's content."""
    return hashlib.sha256(text.encode("utf-8") if isinstance(text, str) else text).hexdigest()


def file_digest(path: str) -> str:
    """SHA-256 of a file; empty where there is none, as for a table made in Python."""
    return text_digest(Path(path).read_bytes()) if path and Path(path).is_file() else ""


def catalog_digest(catalog: Catalog) -> str:
    """SHA-256 over all files of a catalog's fixes, things, sources and signs, by name and content."""
    files = sorted(catalog.folder.glob("*.yaml")) + sorted((catalog.folder / "fixes").glob("*.yaml"))
    whole = hashlib.sha256()
    for file in files:
        whole.update(f"{file.name}\n{text_digest(file.read_bytes())}\n".encode())
    return whole.hexdigest()


def running_version() -> str:
    """Version of this process; read from the package, which is there before any of its parts."""
    return str(vars(sys.modules["deskmend"])["__version__"])
