"""How sure each fix of a plan is, and what to measure again.

As plain text, as the part ``sure`` of a plan's document, and as a line of the web page with details.
"""

from __future__ import annotations

from deskmend.language import tr
from deskmend.planning.draws import UncertainLength
from deskmend.planning.plan import Plan
from deskmend.planning.selection import FixKey
from deskmend.planning.sure import AtEnd, MeasureEffect, Sure, SureFix
from deskmend.report.case_documents import SureEnd, SureFixRecord, SureMeasure, SureRecord
from deskmend.report.documents import quantity_json, strain_json
from deskmend.report.layout import Fold, Page
from deskmend.report.steps import owned_title, step_title
from deskmend.report.words import MOST_LINES, SMALLEST_TOLD, measure_words, quantity_text, strain_text

__all__ = ["again_words", "sure_document", "sure_folds", "sure_text"]


def sure_document(sure: Sure) -> SureRecord:
    """How sure each fix is: counts of samples, strain [h/day], lengths [mm].

    ``loses`` is the strain lost by keeping to the plan; null: it cannot be kept to.
    """
    return {
        "samples": sure.samples,
        "seed": sure.seed,
        "without_plan": sure.without_plan,
        "same_fixes": sure.same_fixes,
        "fixes": [_fix_json(one) for one in sure.fixes],
        "measures": [_measure_json(effect) for effect in sure.measures],
        "measure_again": None if sure.again is None else _path(sure.again),
        "flips_between": None
        if sure.flip is None
        else sorted(quantity_json(value) or 0.0 for value in (sure.flip.stays_at, sure.flip.flips_at)),
    }


def _fix_json(one: SureFix) -> SureFixRecord:
    return {
        "fix": one.fix.id,
        "for": one.owner[1] or None,
        "planned": one.planned is not None,
        "stays": one.stays,
        "sizes": [{"with": name, "samples": count} for name, count in one.sizes],
    }


def _path(effect: MeasureEffect) -> str:
    return ".".join(str(part) for part in effect.measure.path)


def _measure_json(effect: MeasureEffect) -> SureMeasure:
    measure = effect.measure
    return {
        "measure": _path(effect),
        "for": measure.owner or None,
        "value": quantity_json(measure.value),
        "unit": measure.unit,
        "sd": quantity_json(measure.sd),
        "estimated": measure.estimated or measure.given_as_guess,
        "ends": [_end_json(end) for end in effect.ends],
    }


def _end_json(end: AtEnd) -> SureEnd:
    return {
        "value": quantity_json(end.value),
        "strain": None if end.strain is None else strain_json(end.strain),
        "kept": end.held.how,
        "loses": None if end.regret is None else strain_json(end.regret),
        "enters": [_key_name(key) for key in end.enters],
        "leaves": [_key_name(key) for key in end.leaves],
    }


def _key_name(key: FixKey) -> str:
    return f"{key[1][1]}.{key[0]}" if key[1][1] else key[0]


def sure_text(sure: Sure, plan: Plan) -> str:
    """Write how sure each fix is, and what to measure again."""
    page = Page()
    page.heading(tr("How sure this is of each fix"))
    page.paragraph(
        tr(
            "Planned again {samples} times, each time with measures, estimates of the body, prices and "
            "limits drawn from what they may be. Just these fixes were best in {same}.",
            samples=sure.samples,
            same=sure.same_fixes,
        )
    )
    if sure.without_plan:
        page.paragraph(tr("In {number} of them nothing kept to the limits.", number=sure.without_plan))
    planned = [one for one in sure.fixes if one.planned is not None]
    page.table(
        [
            (tr("in the plan"), tr("stays in"), tr("at this size in")),
            *(
                (_fix_title(one, plan), _share_words(one.stays, sure), _same_size(one, sure))
                for one in planned
            ),
        ],
        right=(1, 2),
        head=True,
    )
    others = [one for one in sure.fixes if one.planned is None]
    if others:
        page.blank()
        page.table(
            [
                (tr("came up besides or instead"), tr("in")),
                *((_fix_title(one, plan), _share_words(one.stays, sure)) for one in others[:MOST_LINES]),
            ],
            right=(1,),
            head=True,
        )
    page.heading(tr("What to measure again"))
    page.paragraph(again_words(sure, plan))
    more = [effect for effect in sure.measures if effect is not sure.again and _counts(effect)]
    for effect in more[:MOST_LINES]:
        told = _end_words(effect.worst, effect.measure.unit)
        page.point("-", f"{_measure_title(effect.measure, plan)}: {told}")
    page.blank()
    page.paragraph(
        tr(
            "How far off each measure may be is judgement: 10 mm for furniture and devices, 20 mm for the "
            "body and the distance to a screen or paper, 3 mm for what is thin, twice the usual spread for "
            "estimates. Where the case says how sure a measure is, that counts instead. Limits "
            "move only where their sources differ."
        )
    )
    return page.text()


def _share_words(number: int, sure: Sure) -> str:
    """Say in how many of the samples something holds."""
    return tr("{number} of {samples}", number=number, samples=sure.samples)


def _same_size(one: SureFix, sure: Sure) -> str:
    if one.planned is None or one.planned.size is None:
        return "-"
    return _share_words(dict(one.sizes).get(one.planned.with_name, 0), sure)


def _fix_title(one: SureFix, plan: Plan) -> str:
    """Title of a fix; with its size where the plan holds it, with place or task where there are several."""
    if one.planned is not None:
        return step_title(one.planned, plan.state_before)
    return owned_title(tr(one.fix.title), one.owner, plan.state_before)


def _measure_title(measure: UncertainLength, plan: Plan) -> str:
    """Name of a measure, with its place, seat or task where there are several."""
    state = plan.state_before
    named = measure.owner and (
        len(state.places) > 1 or len(state.tasks) > 1 or measure.owner not in (*state.places, *state.tasks)
    )
    return measure_words(measure.key) + (f" ({measure.owner})" if named else "")


def _counts(effect: MeasureEffect) -> bool:
    impossible, regret = effect.stake
    return impossible or regret >= SMALLEST_TOLD


def _end_words(end: AtEnd, unit: str) -> str:
    """What it would mean if a measure were at one of its ends."""
    there = quantity_text(end.value, unit)
    if end.regret is None:
        return tr("were it {there}, this plan could not be carried out.", there=there)
    return tr(
        "were it {there}, keeping to this plan would leave {more} more strain-hours a day than the best "
        "plan there.",
        there=there,
        more=strain_text(end.regret, 2),
    )


def again_words(sure: Sure, plan: Plan) -> str:
    """Say which measure is most worth taking again, and where the plan changes."""
    effect = sure.again
    if effect is None or not _counts(effect):
        return tr(
            "No single measure that is off as far as it may be makes this plan lose anything that counts."
        )
    measure = effect.measure
    value, title = quantity_text(measure.value, measure.unit), _measure_title(measure, plan)
    if measure.estimated or measure.given_as_guess:
        text = tr(
            "The most valuable thing to measure is: {measure}. It is only estimated, at {value};",
            measure=title,
            value=value,
        )
    else:
        text = tr(
            "The most valuable thing to measure again is: {measure}. It is given as {value};",
            measure=title,
            value=value,
        )
    text += " " + _end_words(effect.worst, measure.unit)
    if sure.flip is None:
        return text + " " + tr("The fixes stay the same; their sizes do not.")
    ends = sorted((sure.flip.stays_at, sure.flip.flips_at))
    return (
        text
        + " "
        + tr(
            "Other fixes become best between {low} and {high}.",
            low=quantity_text(ends[0], measure.unit),
            high=quantity_text(ends[1], measure.unit),
        )
    )


def sure_folds(sure: Sure, plan: Plan) -> list[Fold]:
    """Put how sure each fix is into a line."""
    line = tr(
        "How sure is it? Of {samples} tries with measures and prices a little off, {same} had the same plan.",
        samples=sure.samples,
        same=sure.same_fixes,
    )
    stays = (
        tr("{fix}: stays in {share}.", fix=_fix_title(one, plan), share=_share_words(one.stays, sure))
        for one in sure.fixes
        if one.planned is not None
    )
    return [Fold(line, (again_words(sure, plan), *stays))]
