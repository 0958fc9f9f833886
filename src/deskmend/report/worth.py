"""What each thing is worth, what else would do, how sure each fix is and what to measure again.

As plain text, as the part ``worth`` of a plan's document, and as lines of the web page with details.

As plain text, as the part ``sure`` of a plan's document, and as a line of the web page with details.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from deskmend.intake.catalog import Catalog
from deskmend.language import tr
from deskmend.measures import Minor
from deskmend.planning.draws import UncertainLength
from deskmend.planning.plan import Plan
from deskmend.planning.selection import FixKey
from deskmend.planning.sure import AtEnd, MeasureEffect, Sure, SureFix
from deskmend.planning.worth import ItemWorth, OpenStrain, Substitute, Worth
from deskmend.report.documents import money_json, names_json, quantity_json, strain_json
from deskmend.report.layout import Fold, Page
from deskmend.report.steps import owned_title, step_title
from deskmend.report.words import (
    MOST_LINES,
    SMALLEST_TOLD,
    exposure_words,
    item_title,
    measure_words,
    money_text,
    quantity_text,
    region_word,
    strain_text,
)

if TYPE_CHECKING:
    from deskmend.report.case_documents import SureEnd, SureFixRecord, SureMeasure, SureRecord, WorthRecord

__all__ = [
    "again_words",
    "sure_document",
    "sure_folds",
    "sure_text",
    "worth_document",
    "worth_folds",
    "worth_text",
]


def worth_document(worth: Worth, currency: str) -> WorthRecord:
    """What a buyer asks next: prices of a pack as decimal text, strain [h/day].

    ``up_to`` and ``enters_at`` null: at any price; ``as_gift`` false: not even for nothing.
    """
    following = worth.following
    return {
        "money": money_json(worth.money, currency),
        "within_percent": worth.within,
        "bought": [
            {
                "item": one.item,
                "packs": one.packs,
                "price": money_json(one.price, currency),
                "up_to": money_json(one.up_to, currency),
                "strain_without": None if one.strain_without is None else strain_json(one.strain_without),
            }
            for one in worth.bought
        ],
        "left_out": [
            {
                "item": one.item,
                "price": money_json(one.price, currency),
                "as_gift": _comes_in(one),
                "enters_at": money_json(one.up_to, currency) if _comes_in(one) else None,
            }
            for one in worth.left_out
        ],
        "substitutes": [
            {
                "without": one.item,
                "strain": strain_json(one.strain),
                "cost": money_json(one.cost, currency),
                "with": names_json(one.options),
                "instead": names_json(one.instead),
            }
            for one in worth.substitutes
        ],
        "still_open": [
            {
                "task": one.term.task,
                "exposure": one.term.exposure,
                "region": one.term.region,
                "strain": strain_json(one.term.value),
                "less_from": None if one.plan is None else money_json(one.plan.cost, currency),
                "then": None if one.plan is None else strain_json(one.then),
                "enters": names_json(one.enters),
            }
            for one in worth.still_open
        ],
        "next": None
        if following is None
        else {"cost": money_json(following.cost, currency), "strain": strain_json(following.strain)},
    }


def _comes_in(one: ItemWorth) -> bool:
    """Whether a thing left out would come in at some price, be it as a gift."""
    return one.up_to is None or one.up_to >= 0


def worth_text(worth: Worth, plan: Plan, catalog: Catalog) -> str:
    """What a buyer asks next, in plain words."""
    page = Page()
    page.heading(tr("What each thing is worth here"))
    page.points([_bought_words(one, plan, catalog) for one in worth.bought])
    if not worth.bought:
        page.paragraph(tr("Nothing is bought, so there is nothing to ask this of."))
    dear = [one for one in worth.left_out if _comes_in(one)]
    if dear:
        page.heading(tr("Left out, and the price at which it would come in"))
        page.points([_entry_words(one, plan, catalog) for one in dear[:MOST_LINES]])
    useless = ", ".join(item_title(one.item, catalog) for one in worth.left_out if not _comes_in(one))
    if useless:
        page.paragraph(tr("Of no use to this plan even as a gift: {things}.", things=useless))
    if worth.substitutes:
        page.heading(tr("Nearly as good without one of them"))
        page.points(_substitutes(worth, plan, catalog))
    page.heading(tr("What stays, and what would touch it"))
    page.paragraph(_following_words(worth, plan))
    page.points([_open_words(one, plan) for one in _still_open(worth)[:MOST_LINES]])
    page.paragraph(
        tr(
            "Each price was found by planning again: at it the thing is bought, one step above it no longer. "
            "All other prices stay as they are."
        )
    )
    return page.text()


def worth_folds(worth: Worth, plan: Plan, catalog: Catalog) -> list[Fold]:
    """What a buyer asks next, a line each; `plan` is the one shown first."""
    out = []
    if worth.bought:
        details = tuple(_bought_words(one, plan, catalog) for one in worth.bought)
        out.append(Fold(_closest(worth, plan, catalog), details))
    if worth.substitutes:
        line = tr("There are plans nearly as good that do without one of the things.")
        out.append(Fold(line, tuple(_substitutes(worth, plan, catalog))))
    left = _still_open(worth)
    if left:
        line = (
            tr("What stays out of range, nothing that can be bought here would change.")
            if all(one.plan is None for one in left)
            else tr("Some of what stays out of range would change with more money.")
        )
        out.append(Fold(line, tuple(_open_words(one, plan) for one in left[:MOST_LINES])))
    return out


def _substitutes(worth: Worth, plan: Plan, catalog: Catalog) -> list[str]:
    return [_substitute_words(one, plan, catalog) for one in worth.substitutes[:MOST_LINES]]


def _still_open(worth: Worth) -> list[OpenStrain]:
    return [one for one in worth.still_open if one.term.value >= SMALLEST_TOLD]


def _bought_words(one: ItemWorth, plan: Plan, catalog: Catalog) -> str:
    """Say up to which price a thing of the plan is worth buying."""
    thing = item_title(one.item, catalog)
    now = money_text(one.price, plan.currency)
    if one.up_to is None:
        text = tr("{thing}, {now}: worth any price within the plan.", thing=thing, now=now)
    else:
        text = tr(
            "{thing}, {now}: worth buying up to {most}.",
            thing=thing,
            now=now,
            most=money_text(one.up_to, plan.currency),
        )
    if one.strain_without is None:
        return text + " " + tr("Without it there is no plan.")
    more = one.strain_without - plan.after.total
    return text + " " + tr("Without it {more} more strain-hours a day stay.", more=strain_text(more, 2))


def _entry_words(one: ItemWorth, plan: Plan, catalog: Catalog) -> str:
    """Say at which price a thing left out would come in."""
    thing = item_title(one.item, catalog)
    now = money_text(one.price, plan.currency)
    if one.up_to is None:
        return tr("{thing}, {now}: it would come in at any price.", thing=thing, now=now)
    if one.up_to == 0:
        return tr("{thing}, {now}: only as a gift.", thing=thing, now=now)
    return tr(
        "{thing}, {now}: it would come in at {most} or less.",
        thing=thing,
        now=now,
        most=money_text(one.up_to, plan.currency),
    )


def _substitute_words(other: Substitute, plan: Plan, catalog: Catalog) -> str:
    """Say how the plan would go without one thing."""
    titles = [step_title(option, plan.state_before) for option in other.instead]
    text = tr(
        "without {thing}: {strain} strain-hours a day stay, for {cost}.",
        thing=item_title(other.item, catalog),
        strain=strain_text(other.strain, 2),
        cost=money_text(other.cost, plan.currency),
    )
    return text + (" " + tr("Instead: {things}.", things="; ".join(titles)) if titles else "")


def _following_words(worth: Worth, plan: Plan) -> str:
    """Say what the next better plan costs and takes off."""
    if worth.following is None:
        return tr("More money would take nothing more off.")
    following = worth.following
    return tr(
        "The next better plan costs {cost} in all, {more} more than this one, and takes off {gain} more.",
        cost=money_text(following.cost, plan.currency),
        more=money_text(following.cost - plan.cost, plan.currency),
        gain=strain_text(plan.after.total - following.strain, 2),
    )


def _open_words(one: OpenStrain, plan: Plan) -> str:
    """Say what strain is left, and the first better plan that has less of it."""
    term = one.term
    of = term.roles.get("target") or term.roles.get("hand") or ""
    left = tr(
        "{region}, {what}: {strain} left.",
        region=region_word(term.region),
        what=exposure_words(term.exposure, of, term.task if len(plan.state_after.tasks) > 1 else ""),
        strain=strain_text(term.value, 2),
    )
    if one.plan is None:
        return left + " " + tr("No plan at any budget has less of it.")
    titles = [step_title(option, plan.state_before) for option in one.enters]
    then = tr(
        "From {cost} on it falls to {then}.",
        cost=money_text(one.plan.cost, plan.currency),
        then=strain_text(one.then, 2),
    )
    return f"{left} {then}" + (" " + tr("New there: {things}.", things="; ".join(titles)) if titles else "")


def _closest(worth: Worth, plan: Plan, catalog: Catalog) -> str:
    """The thing whose price is nearest to what it is worth."""

    def room(one: ItemWorth) -> Minor:
        return 0 if one.up_to is None else one.up_to - one.price

    limited = [one for one in worth.bought if one.up_to is not None]
    if not limited:
        return tr("Each thing you buy is worth any price within the plan.")
    one = min(limited, key=lambda each: (room(each), each.item))
    return tr(
        "Each thing you buy is worth its price. The closest is {thing}: {now}, worth up to {most}.",
        thing=item_title(one.item, catalog),
        now=money_text(one.price, plan.currency),
        most=money_text(one.up_to or 0, plan.currency),
    )


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
        "kept": end.kept.how,
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
