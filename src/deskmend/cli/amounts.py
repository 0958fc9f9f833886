"""Money given on the command line."""

from __future__ import annotations

from deskmend.errors import Fault, InputFaults

__all__ = ["amounts"]


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
