"""Money given on the command line."""

from __future__ import annotations

from deskmend.errors import Fault, InputFaults

__all__ = ["amount_list", "amounts"]

MOST_AMOUNTS = 100
"""Most amounts in one list."""


def amounts(given: dict[str, str | None], currency: str) -> dict[str, int | None]:
    """Read amounts of money.

    Parameters
    ----------
    given : dict of str to str or None
        Text by option, as ``{"--budget": "40.00"}``.
    currency : str
        Currency of the price table.

    Returns
    -------
    dict of str to int or None
        Minor units by option; None where nothing was given.

    Raises
    ------
    InputFaults
        Every one that is no amount.
    """
    from deskmend.money import UnreadableAmount, parse_amount

    out: dict[str, int | None] = {}
    faults = []
    for option, text in given.items():
        out[option] = None
        if text is None:
            continue
        try:
            out[option] = parse_amount(text, currency)
        except UnreadableAmount as error:
            faults.append(Fault("command line", None, option, text, error.allowed, error.hint))
    if faults:
        raise InputFaults(faults)
    return out


def amount_list(option: str, text: str, currency: str) -> list[int]:
    """Read amounts of money that commas separate.

    Parameters
    ----------
    option : str
        Where the text comes from, as ``--at``.
    text : str
        As ``0,20,50.00``.
    currency : str
        Currency of the price table.

    Returns
    -------
    list of int
        Minor units, in the order given.

    Raises
    ------
    InputFaults
        Every one that is no amount, or that there are too many.
    """
    from deskmend.money import UnreadableAmount, parse_amount

    parts = text.split(",")
    if len(parts) > MOST_AMOUNTS:
        raise InputFaults(
            [Fault("command line", None, option, f"{len(parts)} amounts", f"at most {MOST_AMOUNTS}")]
        )
    out, faults = [], []
    for part in parts:
        try:
            out.append(parse_amount(part, currency))
        except UnreadableAmount as error:
            faults.append(Fault("command line", None, option, part, error.allowed, error.hint))
    if faults:
        raise InputFaults(dict.fromkeys(faults))
    return out
