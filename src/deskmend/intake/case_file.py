"""Loading a case: the file, its records, and what they must say of each other."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from deskmend.errors import Fault, FaultList, InputFaults
from deskmend.intake.case import Case, Origin
from deskmend.intake.case_rules import find_conflicts
from deskmend.intake.records import fault_at, read_plain
from deskmend.intake.tree import Tree, to_plain
from deskmend.intake.yaml_tree import read_tree

TABLE_ENDINGS = (".csv", ".xlsx", ".parquet")
"""Names that no case file has: whoever gives one took the wrong file, and its lines would say nothing."""
TABLE_HINT = "applicants go to deskmend allocate, prices to --prices"


def load_case(path: str | Path) -> Case:
    """Read a case file.

    Parameters
    ----------
    path : str or Path
        A YAML file of format ``deskmend-case/1``.

    Returns
    -------
    Case
        The case; lengths [mm], angles [deg], times [h] or [min] as the fields say, money [minor units].

    Raises
    ------
    InputFaults
        Where anything is wrong, with every fault that could be found.
    """
    if Path(path).suffix.lower() in TABLE_ENDINGS and Path(path).is_file():
        told = FaultList(str(path))
        told.add(None, "", None, "a case file, as mine.yaml", TABLE_HINT, "is named as a table")
        raise InputFaults(told)
    tree, found = read_tree(path)
    if tree is None:
        raise InputFaults(found)
    case, faults = read_case(to_plain(tree.root), tree.file, tree)
    if found or case is None:
        together = FaultList(tree.file)
        together.extend(found)
        together.extend(faults)
        raise InputFaults(together)
    return case


def read_case(plain: Any, file: str, lines: Tree | int | None = None) -> tuple[Case | None, list[Fault]]:
    """Check the texts of a case, from a file or from a row of a table.

    Parameters
    ----------
    plain : Any
        The case as mappings, lists and texts.
    file : str
        Name of the file for messages.
    lines : Tree, int or None
        Where lines come from: the file's tree, or one line for all (a table's row).

    Returns
    -------
    case : Case or None
        The case; None where a fault was found.
    faults : list of Fault
        Every fault, by line.
    """
    case, found = read_plain(plain, Case, file, lines)
    faults = FaultList(file)
    faults.extend(found)
    for one in find_conflicts(plain):
        if faults.full:
            break
        faults.extend([fault_at(one.loc, plain, file, lines, one.read, one.allowed, one.hint, one.note)])
    if case is None or faults:
        return None, list(faults)
    case._origin = Origin(file, lines if isinstance(lines, Tree) else None)
    return case, []
