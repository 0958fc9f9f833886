"""What the strain of each part of the body comes from, and complaints that nothing measured here explains."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable

from deskmend.intake.case import Case
from deskmend.language import tr
from deskmend.measures import Micro
from deskmend.planning.exposures import ExposureRow
from deskmend.report.layout import Page
from deskmend.report.words import SMALLEST_TOLD, exposure_words, region_word, strain_text
from deskmend.risk.severity import REGIONS

__all__ = ["add_causes", "cause_texts", "complaint_texts", "most_left_text"]

MOST_CAUSES = 3
"""Most causes told of one region; of most that is left, the most regions."""


def _causes(rows: Iterable[ExposureRow]) -> dict[str, list[tuple[str, Micro]]]:
    """What strains each region in plain words, all tasks and modes together, the most first."""
    found: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for row in rows:
        if row.strain:
            found[row.region][exposure_words(row.name, row.of)] += row.strain
    return {region: found[region].most_common() for region in REGIONS if region in found}


def cause_texts(rows: Iterable[ExposureRow]) -> list[str]:
    """One line for each region that is strained, in the order of the regions."""
    out = []
    for region, causes in _causes(rows).items():
        told = causes[:1] + [one for one in causes[1:MOST_CAUSES] if one[1] >= SMALLEST_TOLD]
        parts = [f"{what} {strain_text(strain, 2)}" for what, strain in told]
        if len(told) < len(causes):
            rest = sum(strain for _, strain in causes[len(told) :])
            parts.append(tr("the rest {strain}", strain=strain_text(rest, 2)))
        out.append(f"{region_word(region)}: {'; '.join(parts)}")
    return out


def most_left_text(rows: Iterable[ExposureRow]) -> str:
    """Where most of what a plan leaves is, and from what; empty where too little is left to be told."""
    causes = _causes(rows)
    sums = Counter({region: sum(strain for _, strain in found) for region, found in causes.items()})
    told = [region for region, strain in sums.most_common(MOST_CAUSES) if strain >= SMALLEST_TOLD]
    if not told:
        return ""
    parts = [
        f"{region_word(region)} {strain_text(sums[region], 2)} ({causes[region][0][0]})" for region in told
    ]
    return tr("Most of what is left: {parts}.", parts="; ".join(parts))


def complaint_texts(case: Case, *many: Iterable[ExposureRow]) -> list[str]:
    """What to say of each region that troubles the person where nothing strains it, in any of some states."""
    strained = {row.region for rows in many for row in rows if row.strain}
    return [
        tr(
            "{region}: discomfort was told here, and nothing that is measured strains this part. No step is "
            "meant for it. If the discomfort stays, ask a clinician.",
            region=region_word(region),
        )
        for region in REGIONS
        if getattr(case.person.discomfort, region) and region not in strained
    ]


def add_causes(page: Page, title: str, rows: Iterable[ExposureRow], complaints: Iterable[str]) -> None:
    """Add what strains each region, and what is said of complaints without a cause."""
    texts = [*cause_texts(rows), *complaints]
    if texts:
        page.heading(title)
        page.points(texts)
