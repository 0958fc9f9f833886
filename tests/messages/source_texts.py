"""Sentences in the code: literals of ``tr`` and ``trn``, and constants that hold words for them."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).resolve().parents[2] / "src" / "deskmend"


@dataclass(frozen=True)
class Text:
    """One sentence for people, its plural where it has one, and where it stands."""

    text: str
    where: str
    plural: str | None = None


@cache
def _trees() -> dict[str, ast.Module]:
    return {
        ".".join(("deskmend", *path.relative_to(PACKAGE).with_suffix("").parts)): ast.parse(
            path.read_text(encoding="utf-8")
        )
        for path in sorted(PACKAGE.rglob("*.py"))
    }


def code_texts() -> Iterator[Text]:
    """Every literal of ``tr`` and ``trn``; of a constant looked up within ``tr``, every string it holds."""
    for module, tree in _trees().items():
        for call in ast.walk(tree):
            if not (isinstance(call, ast.Call) and isinstance(call.func, ast.Name)):
                continue
            if call.func.id == "tr":
                yield from _told(call.args[0], module)
            elif call.func.id == "trn":
                one, many = (_literal(argument) for argument in call.args[:2])
                if one is None or many is None:
                    raise ValueError(f"{module}:{call.lineno}: trn takes literals")
                yield Text(one, module, many)


def _literal(node: ast.expr) -> str | None:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def _told(argument: ast.expr, module: str) -> Iterator[Text]:
    if isinstance(argument, ast.JoinedStr):
        raise ValueError(f"{module}:{argument.lineno}: tr takes no f-string, or its text cannot be read")
    if (text := _literal(argument)) is not None:
        yield Text(text, module)
        return
    if isinstance(argument, ast.IfExp):
        yield from _told(argument.body, module)
        yield from _told(argument.orelse, module)
        return
    for node in ast.walk(argument):
        if isinstance(node, ast.Name) and node.id.isupper():
            for text in _strings(_constant(module, node.id)):
                yield Text(text, module)


def _constant(module: str, name: str) -> ast.expr:
    """Value of a constant of a module, also of one that it imports."""
    for node in _trees()[module].body:
        if isinstance(node, ast.Assign) and any(
            isinstance(t, ast.Name) and t.id == name for t in node.targets
        ):
            return node.value
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name) and node.target.id == name:
            if node.value is not None:
                return node.value
        if isinstance(node, ast.ImportFrom) and node.module and any(a.name == name for a in node.names):
            return _constant(node.module, name)
    raise ValueError(f"{module}: {name} is no constant of this module")


def _strings(value: ast.expr) -> Iterator[str]:
    """Strings a constant holds; of a dictionary those of its values."""
    if isinstance(value, ast.Dict):
        for one in value.values:
            yield from _strings(one)
    elif isinstance(value, ast.Tuple | ast.List):
        for one in value.elts:
            yield from _strings(one)
    elif text := _literal(value):
        yield text
    elif isinstance(value, ast.Name):
        raise ValueError(f"a constant that tr looks up holds the name {value.id}: write its text there")
