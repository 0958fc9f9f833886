"""Faults of a single line, found by reading the source: what could be written wrong, and the line then."""

from __future__ import annotations

import ast
import copy
import hashlib
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

FLOORS = ("choice", "risk", "grants", "planning", "workstation", "intake")
TURNED: dict[type[ast.AST], type[ast.AST]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.FloorDiv,
    ast.FloorDiv: ast.Mult,
    ast.Div: ast.Mult,
    ast.Lt: ast.Gt,
    ast.Gt: ast.Lt,
    ast.LtE: ast.GtE,
    ast.GtE: ast.LtE,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
STRICT: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
}
SWAPPED = {
    "min": "max",
    "max": "min",
    "any": "all",
    "all": "any",
    "minimum": "maximum",
    "maximum": "minimum",
    "ceil": "floor",
    "floor": "ceil",
}
SKIPPED = (ast.JoinedStr, ast.Raise, ast.Assert, ast.Import, ast.ImportFrom)
"""Words for people, and what holds nothing to be got wrong."""


@dataclass(frozen=True)
class Fault:
    """One line written wrong. It is told by module, function and words, so that lines above may move."""

    module: str
    function: str
    kind: str
    line: str
    wrong: str
    again: int
    """How often the same words stood in the same function before."""
    path: str
    number: int

    @property
    def name(self) -> str:
        """What it is known by from run to run."""
        more = f" ({self.again + 1})" if self.again else ""
        return f"{self.module}:{self.function}{more}: {self.line}  ->  {self.wrong}"

    @property
    def floor(self) -> str:
        """Package that it stands in."""
        return self.module.split(".")[1]

    def written_in(self, text: str) -> str:
        """Text of its module, with the fault; ValueError where another line stands there by now."""
        lines = text.split("\n")
        line = lines[self.number - 1]
        if line.strip() != self.line:
            raise ValueError(f"{self.path}, line {self.number}, is {line.strip()!r}, not {self.line!r}")
        lines[self.number - 1] = line[: len(line) - len(line.lstrip())] + self.wrong
        return "\n".join(lines)


def faults_of(root: Path) -> list[Fault]:
    """Every fault that could be planted, floor by floor."""
    found = []
    for floor in FLOORS:
        for path in sorted((root / "src" / "deskmend" / floor).rglob("*.py")):
            found += _faults_in(root, path)
    return found


def drawn(faults: Sequence[Fault], seed: int, count: int) -> list[Fault]:
    """So many faults, by turns from every floor and of every kind.

    Each has its own number in the draw, so that a line changed elsewhere moves no other fault in or out.
    """
    queues: dict[str, dict[str, list[Fault]]] = defaultdict(lambda: defaultdict(list))
    for fault in sorted(faults, key=lambda one: drawn_number(seed, one.name)):
        queues[fault.floor][fault.kind].append(fault)
    rows = [_by_turns([queues[floor][kind] for kind in sorted(queues[floor])]) for floor in FLOORS]
    return _by_turns(rows)[:count]


def drawn_number(seed: int, text: str) -> bytes:
    """Number of a fault in the draw."""
    return hashlib.sha256(f"{seed}:{text}".encode()).digest()


def _by_turns(queues: Sequence[Sequence[Fault]]) -> list[Fault]:
    longest = max(map(len, queues), default=0)
    return [queue[turn] for turn in range(longest) for queue in queues if turn < len(queue)]


def _faults_in(root: Path, path: Path) -> Iterator[Fault]:
    source = path.read_text(encoding="utf-8")
    lines = source.splitlines()
    module = ".".join(path.relative_to(root / "src").with_suffix("").parts).removesuffix(".__init__")
    seen: dict[tuple[str, str, str], int] = defaultdict(int)
    for function, kind, node, wrong in _places(ast.parse(source), ""):
        if node.lineno != node.end_lineno:
            continue
        before = lines[node.lineno - 1]
        raw = before.encode()
        after = (raw[: node.col_offset] + wrong.encode() + raw[node.end_col_offset :]).decode()
        if not wrong:
            after = after.removesuffix(",")
        key = (function, before.strip(), after.strip())
        if key[1] != key[2]:
            yield Fault(
                module, function, kind, *key[1:], seen[key], path.relative_to(root).as_posix(), node.lineno
            )
            seen[key] += 1


Place = tuple[str, str, "ast.expr | ast.stmt", str]


def _places(node: ast.AST, function: str) -> Iterator[Place]:
    """Every place where one kind of fault could stand, with what would stand there."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, SKIPPED) or child in _left_out(node):
            continue
        inner = function
        if isinstance(child, ast.FunctionDef | ast.ClassDef):
            inner = f"{function}.{child.name}".lstrip(".")
        elif isinstance(child, ast.expr | ast.stmt):
            yield from ((inner, kind, child, wrong) for kind, wrong in _wrong(child))
        yield from _places(child, inner)
        if isinstance(child, ast.expr) and child in _rows(node):
            yield function, "row dropped", child, ""
    for test in _conditions(node):
        yield function, "condition negated", test, f"(not ({ast.unparse(test)}))"


def _left_out(node: ast.AST) -> list[ast.AST | None]:
    """Types, decorators and docstrings, and guards that hold for every input there is."""
    if isinstance(node, ast.FunctionDef):
        return [*node.decorator_list, node.returns, *node.body[: ast.get_docstring(node) is not None]]
    if isinstance(node, ast.ClassDef):
        return [*node.decorator_list, *node.bases]
    if isinstance(node, ast.AnnAssign | ast.arg):
        return [node.annotation]
    if isinstance(node, ast.keyword) and node.arg == "strict":
        return [node.value]
    if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
        return [node.value]
    return [node.slice] if isinstance(node, ast.Subscript) and ast.unparse(node.value) == "Callable" else []


def _conditions(node: ast.AST) -> list[ast.expr]:
    if isinstance(node, ast.If | ast.While | ast.IfExp):
        return [node.test]
    return list(node.ifs) if isinstance(node, ast.comprehension) else []


def _rows(node: ast.AST) -> list[ast.expr]:
    """Elements of a table that have a line for themselves, comma included."""
    if not isinstance(node, ast.List | ast.Tuple | ast.Set):
        return []
    lines = Counter(one.lineno for one in node.elts)
    return [
        one
        for one in node.elts
        if lines[one.lineno] == 1 and one.lineno not in (node.lineno, node.end_lineno)
    ]


def _wrong(node: ast.expr | ast.stmt) -> Iterator[tuple[str, str]]:
    if isinstance(node, ast.BinOp) and type(node.op) in TURNED:
        yield "operator turned", f"({_with(node, op=TURNED[type(node.op)]())})"
    elif isinstance(node, ast.Compare):
        for kind, table in (("operator turned", TURNED), ("comparison made strict or not", STRICT)):
            if type(node.ops[0]) in table:
                ops = [table[type(node.ops[0])](), *node.ops[1:]]
                yield kind, f"({_with(node, ops=ops)})"
    elif isinstance(node, ast.BoolOp):
        other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield "and for or", f"({_with(node, op=other)})"
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield "not dropped", f"({ast.unparse(node.operand)})"
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield "constant changed", str(not node.value)
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        yield "constant changed", repr(node.value + 1)
    elif isinstance(node, ast.Name) and node.id in SWAPPED:
        yield "least for most", SWAPPED[node.id]
    elif isinstance(node, ast.Attribute) and node.attr in SWAPPED:
        yield "least for most", f"{ast.unparse(node.value)}.{SWAPPED[node.attr]}"
    elif isinstance(node, ast.List | ast.Set) and len(node.elts) > 1:
        yield "row dropped", _with(node, elts=node.elts[:-1])
    elif isinstance(node, ast.Continue | ast.Break | ast.AugAssign):
        yield "statement dropped", "pass"
    elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
        yield "statement dropped", "pass"


def _with(node: ast.expr, **changed: object) -> str:
    other = copy.copy(node)
    for name, value in changed.items():
        setattr(other, name, value)
    return ast.unparse(other)
