"""What whoever gives the money wants, read from text; every fault at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import cast, get_args

from deskmend.errors import Fault, InputFaults, did_you_mean
from deskmend.grants.fund import FundWishes
from deskmend.grants.terms import Limit, Policy
from deskmend.intake.ids import is_id
from deskmend.money import UnreadableAmount, parse_amount
from deskmend.planning.goals import Goal, goals_of

__all__ = ["POLICIES", "read_wishes"]

POLICIES: tuple[str, ...] = get_args(Policy)
LIMITED = ("strain", "rosa")
COMMAND_LINE = "command line"


def read_wishes(
    fund: str | None,
    currency: str,
    policy: str = "most_relief",
    limit: Iterable[tuple[str, object]] | Mapping[str, object] = (),
    cap: str | None = None,
    floor: str | None = None,
    group_share: Iterable[tuple[str, object]] | Mapping[str, object] = (),
    use_discomfort: bool = False,
) -> FundWishes:
    """Read the wishes of whoever gives the money.

    Parameters
    ----------
    fund, cap, floor : str or None
        Money [major units], as ``5000.00``.
    currency : str
        Of the price table.
    policy : str
        One of `POLICIES`.
    limit : pairs or mapping
        For ``most_people`` alone, one of ``rosa`` [-] and ``strain`` [h/day] with its value.
    group_share : pairs or mapping
        Part of the fund kept for a group, from 0 to 1; together at most 1 [-].
    use_discomfort : bool
        Whether regions that trouble a person count for more.

    Raises
    ------
    InputFaults
        Everything that cannot be understood.
    """
    faults: list[Fault] = []

    def refuse(where: str, read: str | None, allowed: str, hint: str = "", note: str = "") -> None:
        faults.append(Fault(COMMAND_LINE, None, where, read, allowed, hint, note))

    def money(where: str, text: str | None) -> int | None:
        if text is None:
            return None
        try:
            return parse_amount(text, currency)
        except UnreadableAmount as error:
            refuse(where, text, error.allowed, error.hint)
            return None

    if fund is None:
        refuse("--fund", None, "an amount of money as 5000.00")
    amount, most, least = money("--fund", fund), money("--cap", cap), money("--floor", floor)
    if most is not None and least is not None and least > most:
        refuse("--floor", floor, "at most the cap")
    if policy not in POLICIES:
        refuse("--policy", policy, ", ".join(POLICIES), did_you_mean(policy, POLICIES))
    kept = _limit(limit, policy, faults)
    shares = _shares(group_share, faults)
    if faults or amount is None:
        raise InputFaults(faults)
    return FundWishes(amount, cast(Policy, policy), kept, most, least, shares, use_discomfort)


def _limit(
    limit: Iterable[tuple[str, object]] | Mapping[str, object], policy: str, faults: list[Fault]
) -> Limit | None:
    pairs = list(limit.items() if isinstance(limit, Mapping) else limit)
    if not pairs:
        if policy == "most_people":
            allowed = "SCORE=VALUE with strain or rosa: policy most_people counts who comes under it"
            faults.append(Fault(COMMAND_LINE, None, "--limit", None, allowed))
        return None
    told = ", ".join(f"{name}={value}" for name, value in pairs)
    if policy != "most_people":
        allowed = "no limit without --policy most_people"
        faults.append(Fault(COMMAND_LINE, None, "--limit", told, allowed))
        return None
    if len(pairs) > 1 or pairs[0][0] not in LIMITED:
        hint = did_you_mean(pairs[0][0], LIMITED)
        allowed = "one SCORE=VALUE with strain or rosa"
        faults.append(Fault(COMMAND_LINE, None, "--limit", told, allowed, hint))
        return None
    try:
        (goal,) = cast(tuple[Goal], goals_of(pairs, "--limit"))
    except InputFaults as error:
        faults.extend(error.faults)
        return None
    return Limit("rosa" if goal.name == "rosa" else "strain", goal.at_most)


def _shares(
    group_share: Iterable[tuple[str, object]] | Mapping[str, object], faults: list[Fault]
) -> dict[str, Fraction]:
    shares: dict[str, Fraction] = {}
    allowed = "GROUP=PART with a part from 0 to 1, as shop=0.25, each group once"
    for name, value in group_share.items() if isinstance(group_share, Mapping) else group_share:
        try:
            text = str(value)
            part = Decimal(text) if len(text) <= 12 else Decimal(-1)
        except InvalidOperation:
            part = Decimal(-1)
        good = part.is_finite() and 0 <= part <= 1
        if not good or not is_id(name) or name in shares:
            faults.append(Fault(COMMAND_LINE, None, "--group-share", f"{name}={value}", allowed))
        else:
            shares[name] = Fraction(part)
    if sum(shares.values()) > 1:
        told = ", ".join(f"{name}={float(part)}" for name, part in shares.items())
        allowed = "parts that add up to at most 1"
        faults.append(Fault(COMMAND_LINE, None, "--group-share", told, allowed))
    return shares
