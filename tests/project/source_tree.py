"""The project's own files as data: its modules, what they import, and its text files."""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src"
PACKAGE = "deskmend"
UNTOUCHED = ("build", "dist", "__pycache__")
"""Folders that tools fill, beside all whose names begin with a dot."""


@dataclass(frozen=True)
class Import:
    """One import: who asks for what, where, and whether it happens as the module loads."""

    importer: str
    target: str
    line: int
    at_load: bool


@cache
def module_files() -> dict[str, Path]:
    """Every module of the package by its dotted name; a package stands for its ``__init__.py``."""
    out = {}
    for path in sorted((SOURCE / PACKAGE).rglob("*.py")):
        parts = path.relative_to(SOURCE).with_suffix("").parts
        out[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return out


@cache
def imports_of(path: Path, name: str) -> tuple[Import, ...]:
    """Every import of a file, also those inside functions and those for types alone."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return tuple(_imports(tree, name, path.name == "__init__.py", True))


def _imports(node: ast.AST, name: str, is_package: bool, at_load: bool) -> Iterator[Import]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Import):
            yield from (Import(name, alias.name, child.lineno, at_load) for alias in child.names)
        elif isinstance(child, ast.ImportFrom):
            yield from _imports_from(child, name, is_package, at_load)
        elif isinstance(child, ast.Call) and _calls_import_module(child):
            yield Import(name, ast.literal_eval(child.args[0]), child.lineno, at_load)
        inside = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda) or _types_only(child)
        yield from _imports(child, name, is_package, at_load and not inside)


def _imports_from(node: ast.ImportFrom, name: str, is_package: bool, at_load: bool) -> Iterator[Import]:
    """``from a import b`` asks for ``a.b`` where that is a module, else for ``a``."""
    base = node.module or ""
    if node.level:
        parts = name.split(".")
        kept = parts[: len(parts) - node.level + is_package]
        base = ".".join([*kept, *([node.module] if node.module else [])])
    known = module_files()
    for alias in node.names:
        inner = f"{base}.{alias.name}"
        yield Import(name, inner if inner in known else base, node.lineno, at_load)


def _calls_import_module(node: ast.Call) -> bool:
    called = node.func
    label = (
        called.id
        if isinstance(called, ast.Name)
        else called.attr
        if isinstance(called, ast.Attribute)
        else ""
    )
    return label == "import_module" and bool(node.args) and isinstance(node.args[0], ast.Constant)


def _types_only(node: ast.AST) -> bool:
    return isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"


def package_imports() -> list[Import]:
    """Every import of every module of the package."""
    return [found for name, path in module_files().items() for found in imports_of(path, name)]


def imports_of_tests() -> list[Import]:
    """Every import of every file of the tests."""
    paths = sorted((ROOT / "tests").rglob("*.py"))
    return [found for path in paths for found in imports_of(path, path.stem)]


def text_files() -> dict[str, str]:
    """Every text file of the project by its path, without what tools leave behind."""
    out = {}
    for path in sorted(ROOT.rglob("*")):
        inner = path.relative_to(ROOT)
        hidden = [part for part in inner.parts if part.startswith(".") and part not in (".ci", ".gitignore")]
        if hidden or set(inner.parts) & set(UNTOUCHED) or not path.is_file():
            continue
        try:
            out[inner.as_posix()] = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
    return out


@cache
def pyproject() -> dict[str, Any]:
    """The build file."""
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
