"""What stands behind a fix: its findings in one line, one by one, and as data, and the sources they cite."""

from __future__ import annotations

from collections.abc import Sequence

from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import EvidenceNote, KeptUp, Source
from deskmend.intake.learned import KeptUpHere
from deskmend.language import shown_number, tr, trn
from deskmend.report.case_documents import Evidence

__all__ = [
    "GRADES",
    "best_grade",
    "evidence_json",
    "evidence_line",
    "finding_text",
    "kept_up_text",
    "source_text",
]

GRADES = {
    "A": "trial or review",
    "B": "laboratory",
    "C": "guidance or weak study",
    "D": "no study",
}
TESTED = {
    "direct": "this very thing",
    "near": "a thing very like it",
    "function": "another thing that does the same",
    "none": "not tested",
}
VERDICTS = {
    "helps": "it helped",
    "no_benefit_shown": "no benefit shown",
    "was_placebo": "used as the dummy treatment",
    "mixed": "results mixed",
}


def _helping(notes: Sequence[EvidenceNote]) -> list[EvidenceNote]:
    return [note for note in notes if note.verdict == "helps"]


def best_grade(notes: Sequence[EvidenceNote]) -> str:
    """Grade of the strongest finding that a fix helps; ``-`` where there is none."""
    return min((note.grade for note in _helping(notes)), default="-")


def evidence_line(notes: Sequence[EvidenceNote]) -> str:
    """What stands behind a fix: the strongest finding for it, and those that speak against it."""
    if not notes:
        return tr("No study.")
    helps = _helping(notes)
    parts = []
    if helps:
        best = min(helps, key=lambda note: note.grade)
        parts.append(
            trn(
                "{count} finding for it of grade {grade} ({kind}; {tested})",
                "{count} findings for it, the strongest of grade {grade} ({kind}; {tested})",
                len(helps),
                grade=best.grade,
                kind=tr(GRADES[best.grade]),
                tested=tr(TESTED[best.tested]),
            )
        )
    else:
        parts.append(tr("no finding that it helps"))
    for verdict, words in VERDICTS.items():
        grades = sorted(note.grade for note in notes if note.verdict == verdict)
        if grades and verdict != "helps":
            parts.append(
                tr(
                    "{what} in {number} of grade {grades}",
                    what=tr(words),
                    number=len(grades),
                    grades=", ".join(dict.fromkeys(grades)),
                )
            )
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}."


def finding_text(note: EvidenceNote, catalog: Catalog) -> str:
    """One finding in full, with its source."""
    people = tr(", {number} people", number=note.n) if note.n is not None else ""
    worth = tr(
        "Grade {grade} ({kind}); tested: {tested}; {verdict}.",
        grade=note.grade,
        kind=tr(GRADES[note.grade]),
        tested=tr(TESTED[note.tested]),
        verdict=tr(VERDICTS[note.verdict]),
    )
    return f"{tr(note.finding)} {tr(catalog.sources[note.source].cited)}{people}. {worth}"


def evidence_json(notes: Sequence[EvidenceNote], catalog: Catalog) -> list[Evidence]:
    """Findings with the titles of their sources, the year within them."""
    return [
        {
            "source": note.source,
            "title": tr(catalog.sources[note.source].cited),
            "where": catalog.sources[note.source].place or None,
            "n": note.n,
            "finding": tr(note.finding),
            "grade": note.grade,
            "tested": note.tested,
            "verdict": note.verdict,
        }
        for note in notes
    ]


def source_text(source: Source) -> str:
    """Title, place and status of a source.

    Published titles stay as they are, a description of ours is translated; so are our remarks on a place,
    which stand between semicolons and hold no number.
    """
    parts = source.place.split("; ")
    place = "; ".join(part if any(c.isdigit() for c in part) else tr(part) for part in parts)
    return f"{tr(source.cited)}{f'. {place}' if source.place else ''} ({tr(source.status)})"


def kept_up_text(kept: KeptUp) -> str:
    """On what part of the days a habit is counted, and why."""
    days = shown_number(f"{100 * kept.share:.0f}")
    if isinstance(kept, KeptUpHere):
        return tr(
            "Counted as kept on {days} of 100 days: here {kept} of {cases} people who did it still do, and "
            "what was known before counts as {weight} more. {why}",
            days=days,
            kept=kept.kept,
            cases=kept.cases,
            weight=shown_number(f"{kept.weight:.0f}"),
            why=tr(kept.why),
        )
    return tr("Counted as kept on {days} of 100 days. {why}", days=days, why=tr(kept.why))
