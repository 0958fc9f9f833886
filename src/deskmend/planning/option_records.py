"""Records of what can be chosen: options, the decisions they belong to, and what is left out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from deskmend.intake.catalog_records import Fix
from deskmend.messages import tr
from deskmend.planning.naming import number_text
from deskmend.workstation.effects import Change
from deskmend.workstation.fields import Value
from deskmend.workstation.state import Owner

__all__ = ["KEEP", "LeftOut", "Offer", "Offers", "OptionSpec", "piece_item"]

KEEP = "keep"
"""Name of the option that leaves things as they are."""


@dataclass(frozen=True)
class OptionSpec:
    """One fix at one size for one owner.

    Attributes
    ----------
    name : str
        Name within its decision; unlike ``with_name`` it tells apart stacks of equal height.
    fix : Fix
        The fix.
    owner : Owner
        Whom it is for.
    size : float, str or None
        Chosen size.
    pieces : tuple of float
        Owned pieces that make the size [mm].
    changes : tuple of Change
        What it changes.
    moves_to : str or None
        New place of the task.
    use : mapping of str to int
        Items it takes. People share options, so it is only read.
    """

    name: str
    fix: Fix
    owner: Owner
    size: Value | None
    pieces: tuple[float, ...]
    changes: tuple[Change, ...]
    moves_to: str | None
    use: Mapping[str, int]

    @property
    def with_name(self) -> str:
        """What ``assess --with`` takes."""
        prefix = f"{self.owner[1]}." if self.owner[1] else ""
        return prefix + self.fix.id + ("" if self.size is None else f"={number_text(self.size)}")


@dataclass(frozen=True)
class Offer:
    """One decision: keep, or one of the options.

    Attributes
    ----------
    name : str
        Decision, with the id of its place or task before it.
    owner : Owner
        Whose decision it is.
    options : tuple of OptionSpec
        In catalog order, small sizes first; keeping is not among them.
    """

    name: str
    owner: Owner
    options: tuple[OptionSpec, ...]


@dataclass(frozen=True)
class LeftOut:
    """A fix that is not offered, and why."""

    fix: Fix
    owner: Owner
    reason: str
    cause: str


@dataclass(frozen=True)
class Offers:
    """All decisions of a case, and what is left out of them."""

    decisions: tuple[Offer, ...]
    left_out: tuple[LeftOut, ...]

    def options(self) -> Iterator[OptionSpec]:
        """Every option of every decision."""
        for offer in self.decisions:
            yield from offer.options

    def without(self, names: Mapping[str, Iterable[str]]) -> Offers:
        """Offers without some options, by decision; what is gone is told in ``left_out``."""
        decisions = []
        left_out = list(self.left_out)
        for offer in self.decisions:
            bad = set(names.get(offer.name, ()))
            if not bad and offer.options:
                decisions.append(offer)
                continue
            kept = tuple(option for option in offer.options if option.name not in bad)
            if kept:
                decisions.append(Offer(offer.name, offer.owner, kept))
            staying = {option.fix.id for option in kept}
            for fix in dict.fromkeys(option.fix for option in offer.options):
                if fix.id not in staying:
                    alone = tr(fix.needs[0].why) if len(fix.needs) == 1 else ""
                    why = alone or tr("what it needs cannot be met here")
                    left_out.append(LeftOut(fix, offer.owner, why, "needs"))
        return Offers(tuple(decisions), tuple(left_out))


def piece_item(item: str, thickness: float) -> str:
    """Name of the stock of owned pieces of one thickness."""
    return f"{item}:{number_text(thickness)}"
