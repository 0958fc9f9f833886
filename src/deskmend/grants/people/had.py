"""What a person has from earlier rounds, as it bears on what can be chosen now.

What is cut stays cut: the step it was cut for takes nothing more, no work either, and no other step can use
it. What was bought in a size serves steps of that size. All else is owned like anything else.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from deskmend.intake.case import Case
from deskmend.intake.catalog import Catalog
from deskmend.intake.catalog_records import Fix
from deskmend.intake.given_before import Had
from deskmend.intake.prices import PriceTable, plain_item
from deskmend.intake.reading.fields import Owned
from deskmend.planning.model.offers import Offer, Offers, OptionSpec, offers_for
from deskmend.planning.model.options import number_text
from deskmend.workstation.state import State

__all__ = ["is_cut", "offers_left", "step_name", "with_owned"]


def step_name(option: OptionSpec, tasks: Sequence[str]) -> str:
    """Name of a step that is the same in every round, whatever the table calls its places and tasks.

    Of two tasks the second is told by its number.
    """
    level, owner = option.owner
    second = level == "task" and owner in tasks[1:]
    size = "" if option.size is None else f"={number_text(option.size)}"
    return f"{'task2.' if second else ''}{option.fix.id}{size}"


def is_cut(option: OptionSpec) -> bool:
    """Whether what a step takes is cut for it, and serves nothing else afterwards."""
    return bool(option.fix.cuts) and bool(option.use) and not option.pieces


def with_owned(case: Case, had: Had) -> Case:
    """A person's case with what they have from before owned, and without what of their own was cut up."""
    if not had.owned and not had.used_up:
        return case
    owns = dict(case.owns)
    for item, count in (*had.owned, *((item, -count) for item, count in had.used_up)):
        before = owns.get(item, Owned(0))
        owns[item] = Owned(max(0, before.count + count), before.pieces)
    return case.model_copy(update={"owns": owns})


def offers_left(
    case: Case,
    state: State,
    catalog: Catalog,
    prices: PriceTable | None,
    *,
    had: Had,
    asked: Collection[str] = (),
    also: Collection[str] = (),
) -> Offers:
    """Decisions of a case for somebody who has something from before; the case owns what is loose of it.

    `asked` and `also` are the ids of fixes that are offered only where they are asked for.
    """
    asked = (*asked, *also)
    offers = offers_for(case, state, catalog, prices, asked=asked)
    if not had.made and not had.sized:
        return offers
    # a step that is made already is there even where its material has no price any more
    every = offers_for(_with_all(case, had, catalog), state, catalog, prices, asked=asked)
    here = {offer.name: {option.name: option for option in offer.options} for offer in offers.decisions}
    sized = {(item, size): units for item, size, units in had.sized}
    tasks = list(state.tasks)
    bare: dict[Fix, Fix] = {}
    decisions = []
    for offer in every.decisions:
        open_now = here.get(offer.name, {})
        options: list[OptionSpec] = []
        for option in offer.options:
            if step_name(option, tasks) in had.made:
                fix = bare.setdefault(
                    option.fix, option.fix.model_copy(update={"materials": (), "minutes": 0})
                )
                options.append(replace(option, fix=fix, use={}))
                continue
            one = open_now.get(option.name)
            left = _without_sized(option if one is None else one, sized)
            if one is not None or left.use != option.use:
                options.append(left)
        if options:
            decisions.append(Offer(offer.name, offer.owner, tuple(options)))
    named = {offer.name for offer in decisions}
    staying = {option.fix.id for offer in decisions for option in offer.options}
    rest = tuple(one for one in offers.decisions if one.name not in named)
    return Offers((*decisions, *rest), tuple(o for o in offers.left_out if o.fix.id not in staying))


def _with_all(case: Case, had: Had, catalog: Catalog) -> Case:
    """The case with plenty of whatever sized or made things are of, so that their steps are offered."""
    names = {step.rpartition(".")[2].partition("=")[0] for step in had.made}
    items = {item for item, _, _ in had.sized}
    items |= {material.item for fix in catalog.fixes if fix.id in names for material in fix.materials}
    owns = dict(case.owns)
    for item in sorted(items):
        before = owns.get(item, Owned(0))
        owns[item] = Owned(before.count + 1_000_000, before.pieces)
    return case.model_copy(update={"owns": owns})


def _without_sized(option: OptionSpec, sized: Mapping[tuple[str, str], int]) -> OptionSpec:
    """The option without what of its size is there in sufficient number."""
    if option.size is None:
        return option
    size = number_text(option.size)
    use = {
        item: units for item, units in option.use.items() if sized.get((plain_item(item), size), 0) < units
    }
    return option if len(use) == len(option.use) else replace(option, use=use)
