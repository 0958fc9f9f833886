"""A small sound catalog of a user's own, written to a folder, and ways to break it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

from deskmend.intake.catalog import Catalog, load_catalog

PARTS = {
    "fixes/own.yaml": """format: deskmend-fixes/1
fixes:
  - id: crate_feet
    title: Crate under the feet
    kind: made
    decision: feet
    stage: feet
    scope: place
    size: {low: 40, high: 120, step: 40}
    effects:
      - {change: feet.height, set: size}
      - {change: feet.rest, set: yes}
      - {change: feet.on, set: other}
    materials: [{item: crate, quantity: 1}]
    minutes: 5
    how: ["Put the crate under the feet, {size} mm high."]
    right: The heels rest.
    evidence: [{source: own_eyes, finding: No study was found., grade: D, tested: none}]
""",
    "fixes/second.yaml": """format: deskmend-fixes/1
fixes:
  - id: bell
    title: Bell that rings every half hour
    kind: habit
    decision: breaks
    stage: habits
    scope: person
    effects: [{change: task.spell, at_most: 30}]
    minutes: 5
    how: [Set the bell.]
    evidence: [{source: own_eyes, finding: No study was found., grade: D, tested: none}]
""",
    "items.yaml": """format: deskmend-items/1
items:
  - {id: crate, title: Wooden crate, unit: piece}
""",
    "sources.yaml": """format: deskmend-sources/1
sources:
  - {key: own_eyes, title: What we saw ourselves, status: judgement}
""",
    "screening.yaml": """format: deskmend-signs/1
signs:
  - {id: numb, sign: A foot stays numb, urgency: soon, status: judgement, blocks: [feet]}
""",
}
PRICES = """item,pack,price,currency
crate,1,2.00,EUR
"""


def write(folder: Path, **changes: tuple[str, str]) -> Path:
    """Write the catalog, with one text replaced in the files named, as ``fixes_own=(old, new)``."""
    wanted = {name.replace("/", "_").removesuffix(".yaml"): name for name in PARTS}
    texts = dict(PARTS)
    for short, (old, new) in changes.items():
        name = wanted[short]
        assert texts[name].count(old) >= 1
        texts[name] = texts[name].replace(old, new, 1)
    for name, text in texts.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    (folder / "prices.csv").write_text(PRICES, encoding="utf-8")
    return folder


@cache
def shipped_only(*fixes: str) -> Catalog:
    """The shipped catalog with these fixes alone."""
    shipped = load_catalog()
    return replace(shipped, fixes=tuple(fix for fix in shipped.fixes if fix.id in fixes))
