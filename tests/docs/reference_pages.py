"""Pages made from data: ``docs/sources.md``, ``docs/catalog.md`` and the tables of ``docs/methods.md``.

Run as a program, it writes them anew. A test compares.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path

from deskmend.intake.catalog import Catalog, load_catalog
from deskmend.intake.catalog_records import EvidenceNote, Fix
from deskmend.published import read_table
from deskmend.report.cuts import cut_formulas
from deskmend.risk.severity import curves
from deskmend.risk.strain import exposures
from deskmend.workstation.fields import FIELDS
from deskmend.workstation.state import SCORE_INPUTS

ROOT = Path(__file__).resolve().parents[2]
SOURCES = ROOT / "docs" / "sources.md"
CATALOG_PAGE = ROOT / "docs" / "catalog.md"
METHODS = ROOT / "docs" / "methods.md"
CODE = sorted((*(ROOT / "src").rglob("*.py"), *(ROOT / "src").rglob("*.csv")))

STATUS_ORDER = ("published", "confirmed", "derived", "common practice", "memory", "judgement")
AGAIN = "write the pages anew: python -m tests.docs.reference_pages"


def catalog() -> Catalog:
    return load_catalog()


@cache
def words_of_code() -> dict[str, frozenset[str]]:
    """Words that each file of the code holds, by its path under ``src``."""
    return {
        str(path.relative_to(ROOT / "src")): frozenset(
            re.findall(r"[a-z][a-z0-9_]+", path.read_text(encoding="utf-8"))
        )
        for path in CODE
    }


def citing(key: str) -> list[str]:
    """What cites a source: fixes, severity curves, files of the code."""
    noted = [*catalog().fixes, *catalog().advice]
    kept = {fix.id: fix.kept_up.sources for fix in catalog().fixes if fix.kept_up is not None}
    fixes = [
        one.id
        for one in noted
        if key in {note.source for note in one.evidence} or key in kept.get(one.id, ())
    ]
    own = [name for name, curve in curves().items() if key in curve.sources]
    # "practice" is also a plain word; fixes and curves that cite it are told apart without the code.
    files = [
        name
        for name, words in words_of_code().items()
        if key in words and key != "practice" and "severity.csv" not in name
    ]
    out = []
    for what, names in (("fixes", fixes), ("severity curves", own), ("code", files)):
        if names:
            out.append(f"{what}: {', '.join(f'`{name}`' for name in names)}")
    return out


def sources_page() -> str:
    """Text of ``docs/sources.md``."""
    lines = [
        "# Sources",
        "",
        "Made from `catalog/sources.yaml` by `python -m tests.docs.reference_pages`; edit that file instead.",
        "",
        "*confirmed*: seen in at least one secondary source. *published*: read where it is printed.",
        "*memory*: written from memory. *common practice*: no source exists. *judgement*: ours.",
        "",
        "| key | what | where | status | cited by |",
        "|---|---|---|---|---|",
    ]
    for source in sorted(catalog().sources.values(), key=lambda s: (STATUS_ORDER.index(s.status), s.key)):
        cells = [
            f"`{source.key}`",
            source.cited,
            source.place or "-",
            source.status,
            "; ".join(citing(source.key)),
        ]
        lines.append("| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |")
    return "\n".join(lines) + "\n"


def _sizes(fix: Fix) -> str:
    size = fix.size
    if size is None:
        return "-"
    if size.words:
        return ", ".join(size.words)
    if size.of is not None:
        return f"what the case offers as {size.of}"
    ends = f"{_number(size.low or 0.0)} to {_number(size.high or 0.0)} {size.unit}"
    return f"{ends}, from owned pieces" if size.pieces else f"{ends}, by {_number(size.step or 0.0)}"


VERDICT = {
    "helps": "helped",
    "mixed": "mixed",
    "no_benefit_shown": "no benefit shown",
    "was_placebo": "dummy",
}


def _evidence(notes: Iterable[EvidenceNote]) -> str:
    return "; ".join(f"`{note.source}` {note.grade}, {VERDICT[note.verdict]}" for note in notes)


def _changes(fix: Fix) -> str:
    words = {"set": "=", "add": "+", "at_most": "at most", "at_least": "at least"}
    return ", ".join(
        f"`{e.change}` {words[e.operation]} {_number(e.value) if isinstance(e.value, float) else e.value}"
        + ("" if e.times == 1.0 else f" x {_number(e.times)}")
        for e in fix.effects
    )


def catalog_page() -> str:
    """Text of ``docs/catalog.md``."""
    lines = [
        "# Catalog",
        "",
        "Made from `catalog/` by `python -m tests.docs.reference_pages`; edit that folder instead.",
        "How each fix is made, what it needs and what to mind: `deskmend catalog FIX`.",
        "",
        "Grades: A trial or review, B laboratory, C guidance or weak study, D no study. The verdict is",
        "that of the finding: it helped, mixed, no benefit shown, or it was the dummy treatment of a trial.",
    ]
    for stage in dict.fromkeys(fix.stage for fix in catalog().fixes):
        lines += [
            "",
            f"## {stage.capitalize()}",
            "",
            "| fix | what | kind | decision | sizes | changes | only where | evidence |",
            "|---|---|---|---|---|---|---|---|",
        ]
        for fix in catalog().fixes:
            if fix.stage != stage:
                continue
            marks = [str(p) for need in fix.needs if not need.when for p in need.all]
            marks += ["furniture may be altered"] if fix.alters else []
            marks += [f"leave of the {fix.leave}"] if fix.leave != "none" else []
            marks += ["asked for"] if fix.on_request else []
            cells = [
                f"`{fix.id}`",
                fix.title,
                fix.kind,
                fix.decision,
                _sizes(fix),
                _changes(fix),
                "; ".join(marks) or "-",
                _evidence(fix.evidence),
            ]
            lines.append("| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |")
    lines += [
        "",
        "## Cut lists",
        "",
        "Sides in mm, as sums that a plan works out from the chosen size [mm or degrees] and the case.",
        "",
        "| fix | pieces |",
        "|---|---|",
    ]
    lines += [
        f"| `{fix.id}` | {'<br>'.join(cut_formulas(fix, catalog()))} |" for fix in catalog().fixes if fix.cuts
    ]
    lines += ["", "## Advice that no plan counts", "", "| advice | what | evidence |", "|---|---|---|"]
    lines += [f"| `{one.id}` | {one.title} | {_evidence(one.evidence)} |" for one in catalog().advice]
    return "\n".join(lines) + "\n"


def _number(value: float) -> str:
    return f"{value:g}"


def curves_table() -> str:
    """Every severity curve."""
    lines = [
        "| curve | quantity | 0 at | 1 at | at most | source | status | why |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for curve in curves().values():
        cells = [
            curve.name,
            f"{curve.quantity} [{curve.unit}]",
            _number(curve.zero_at),
            _number(curve.one_at),
            _number(curve.most),
            " ".join(f"`{key}`" for key in curve.sources),
            curve.status,
            curve.note,
        ]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def exposures_table() -> str:
    """Every exposure that counts as strain."""
    notes = {row["exposure"]: row["note"] for row in read_table("deskmend.risk", "exposures.csv")}
    lines = ["| exposure | counted for each | in | region: weight | note |", "|---|---|---|---|---|"]
    for one in exposures():
        regions = ", ".join(f"{region}: {_number(weight)}" for region, weight in one.regions)
        role = {"target": "thing looked at", "hand": "work of the hands", "": "place"}[one.role]
        lines.append(
            f"| {one.name} | {role} | {', '.join(one.modes)} | {regions} | {notes[one.name] or '-'} |"
        )
    return "\n".join(lines) + "\n"


def defaults_table() -> str:
    """What published scores take for granted where the case does not tell."""
    lines = ["| key under `scores:` | what | default |", "|---|---|---|"]
    for name, value in SCORE_INPUTS.items():
        known = FIELDS[name]
        shown = _number(value) if isinstance(value, float) else value
        unit = f" [{known.unit}]" if known.is_number else ""
        lines.append(f"| `{name.removeprefix('scores.')}` | {known.text}{unit} | {shown} |")
    return "\n".join(lines) + "\n"


PARTS: dict[str, Callable[[], str]] = {
    "curves": curves_table,
    "exposures": exposures_table,
    "score inputs": defaults_table,
}


def methods_page(text: str) -> str:
    """``docs/methods.md`` with its tables made anew."""
    for name, make in PARTS.items():
        start, end = f"<!-- {name}: made from data -->\n", f"<!-- end of {name} -->\n"
        before, rest = text.split(start)
        _, after = rest.split(end)
        text = f"{before}{start}{make()}{end}{after}"
    return text


def write_anew() -> None:
    SOURCES.write_text(sources_page(), encoding="utf-8")
    CATALOG_PAGE.write_text(catalog_page(), encoding="utf-8")
    METHODS.write_text(methods_page(METHODS.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    write_anew()
