"""Drawings of one page with every shape written once: what several have is defined once and used there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree

__all__ = ["share_shapes"]

Element = ElementTree.Element
KEPT = "eye"
"""What stays in each drawing itself, for whoever reads coordinates off a page."""
LEAST_PAIRS = 3
"""How often two shapes follow each other before they are worth a definition of their own."""


@dataclass(frozen=True)
class _Shape:
    """A shape as it is written: tag with coordinates, and how it looks."""

    geometry: str
    kind: str


Token = _Shape | int | str
"""A shape, the number of a pair of tokens, or an element that is not shared."""


def share_shapes(drawings: Sequence[str]) -> tuple[str, list[str]]:
    """Definitions for a page, and the drawings that use them; they look as they did.

    Names of definitions hold a dot, which no name of a fix, place or task can.
    """
    roots = [ElementTree.fromstring(one) for one in drawings]
    rows = [[_token(child) for child in root[0]] for root in roots]
    counts = Counter(one.geometry for row in rows for one in row if isinstance(one, _Shape))
    pairs = _pairs(rows)
    names: dict[str, str] = {}
    definitions: list[str] = []

    def written(token: Token) -> str:
        if isinstance(token, str):
            return token
        if isinstance(token, int):
            return f'<use href="#{group(token)}"/>'
        if counts[token.geometry] < 2:
            return f'{token.geometry} class="{token.kind}"/>'
        if token.geometry not in names:
            names[token.geometry] = f"s.{len(names)}"
            head, _, rest = token.geometry.partition(" ")
            line = f'{head} id="{names[token.geometry]}" vector-effect="non-scaling-stroke" {rest}/>'
            definitions.append(line)
        return f'<use href="#{names[token.geometry]}" class="{token.kind}"/>'

    def group(number: int) -> str:
        key = f"pair {number}"
        if key not in names:
            inner = "".join(written(one) for one in pairs[number])
            names[key] = f"s.{len(names)}"
            definitions.append(f'<g id="{names[key]}">{inner}</g>')
        return names[key]

    out = []
    for root, row in zip(roots, rows, strict=True):
        shapes = "".join(written(token) for token in row)
        root[0].clear()
        root[0].set("transform", "scale(1 -1)")
        root[0].text = "\0"
        out.append(ElementTree.tostring(root, encoding="unicode").replace("\0", shapes))
    return "".join(definitions), out


def _token(child: Element) -> Token:
    if child.get("data-of") == KEPT or len(child):
        return ElementTree.tostring(child, encoding="unicode")
    kind = child.attrib.pop("class", "")
    geometry = ElementTree.tostring(child, encoding="unicode")
    return _Shape(geometry.removesuffix("/>").rstrip(), kind)


def _pairs(rows: list[list[Token]]) -> list[tuple[Token, Token]]:
    """Put a number for the two tokens that most often follow each other, again and again; what each is.

    Of pairs that are as frequent the one met first is taken.
    """
    # tokens as small numbers, which are compared far faster: those met from 0 up, numbers of pairs below 0
    met: dict[Token, int] = {}
    numbered = [[met.setdefault(token, len(met)) for token in row] for row in rows]
    tokens = list(met)
    whole = {number for token, number in met.items() if isinstance(token, str)}
    pairs: list[tuple[int, int]] = []
    while True:
        found = Counter(pair for row in numbered for pair in pairwise(row) if whole.isdisjoint(pair))
        pair, most = max(found.items(), key=lambda one: one[1], default=(None, 0))
        if pair is None or most < LEAST_PAIRS:
            break
        pairs.append(pair)
        for row in numbered:
            at = 0
            while at + 1 < len(row):
                if row[at] == pair[0] and row[at + 1] == pair[1]:
                    row[at : at + 2] = [-len(pairs)]
                at += 1

    def written(number: int) -> Token:
        return tokens[number] if number >= 0 else -1 - number

    for given, numbers in zip(rows, numbered, strict=True):
        given[:] = [written(number) for number in numbers]
    return [(written(one), written(other)) for one, other in pairs]
