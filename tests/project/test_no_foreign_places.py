"""The project stands by itself: no file names a folder of somebody's machine or one outside the project."""

from __future__ import annotations

import re

import pytest

from .source_tree import ROOT, text_files

MACHINE = re.compile(r"(?<![\w.$}\"'~*-])/(?:home|root|opt|work|tmp|mnt|srv|Users|data)(?=[/\s\"'`)]|$)")
"""An absolute path that somebody else will not have."""
UPWARDS = re.compile(r"(?:\.\./)+[\w./-]*")
FILES = text_files()


def test_the_tree_is_read() -> None:
    assert {"README.md", "pyproject.toml", ".ci/run", "catalog/items.yaml"} <= set(FILES)


def test_no_folder_of_a_machine_is_named() -> None:
    found = [
        f"{name}:{number}: {line.strip()[:80]}"
        for name, text in FILES.items()
        for number, line in enumerate(text.splitlines(), 1)
        if MACHINE.search(line)
    ]
    assert found == []


def test_no_path_leads_out_of_the_project() -> None:
    out = []
    for name, text in FILES.items():
        for path in UPWARDS.findall(text):
            target = (ROOT / name).parent.joinpath(path).resolve()
            if not target.is_relative_to(ROOT):
                out.append(f"{name}: {path}")
    assert out == []


@pytest.mark.parametrize(
    ("line", "named"),
    [
        ("see " + "/" + "home/anna/desk.csv", True),
        ("PATH=" + "/" + "opt/python/bin", True),
        ("kg/m, and/or, workstation/body.py", False),
        ('"$work/tests0"', False),
    ],
)
def test_what_counts_as_a_folder_of_a_machine(line: str, named: bool) -> None:
    assert bool(MACHINE.search(line)) is named
