"""Answers as people write them, ``5'4``, ``1,63`` or ``4 x 35``, turned into the one text that is kept.

What is kept is a bare number in the unit of its kind, so that the same answer gives the same case however it
was written. Nothing is taken that could as well mean something else: it is asked back (`AskedBack`). The form
reads by the same rules and figures, ``report/templates/answers.js``; a test holds both to one list of texts.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from deskmend.errors import Unreadable
from deskmend.intake.reading.fields import MOST_LENGTHS
from deskmend.language import shown_length, shown_number, tr
from deskmend.measures import QuantityKind, Range, currencies, format_number

RULERS = {"a4": 297.0, "letter": 279.4, "card": 85.6}
"""Long side of each ruler [mm]: sheet of A4 (ISO 216), US letter (11 in, ANSI/ASME Y14.1), bank card (ISO/IEC
7810, ID-1); published, quoted from memory."""

TYPED_UNITS: Mapping[QuantityKind, Mapping[str, float]] = {
    "length": {
        "mm": 1.0,
        **dict.fromkeys(("cm", "centimetres", "centimeters", "centímetros", "centimetros"), 10.0),
        **dict.fromkeys(("m", "metre", "metres", "meter", "meters", "metro", "metros"), 1000.0),
        **dict.fromkeys(("in", "inch", "inches", '"', "pulgada", "pulgadas"), 25.4),
        **dict.fromkeys(("ft", "foot", "feet", "'", "pie", "pies"), 304.8),
    },
    "hours": {
        **dict.fromkeys(("h", "hour", "hours", "hora", "horas"), 1.0),
        **dict.fromkeys(("min", "minute", "minutes", "minuto", "minutos"), 1.0 / 60.0),
    },
    "minutes": {
        **dict.fromkeys(("min", "minute", "minutes", "minuto", "minutos"), 1.0),
        **dict.fromkeys(("h", "hour", "hours", "hora", "horas"), 60.0),
    },
    "count": dict.fromkeys(("years", "años"), 1.0),
}
"""What each unit is in the one that is kept, by kind and word, in small letters."""

DECIMALS: Mapping[QuantityKind, int] = {"length": 1, "hours": 2, "minutes": 0, "count": 0}
"""Decimals that are kept of each kind [-]."""

BARE_LENGTHS = (10.0, 1000.0, 25.4)
"""What else a bare length may be in: centimetres, metres, inches [mm]; the first two are what people leave
out."""
OTHER_UNIT = (0.1, 10.0, 0.01, 100.0, 0.001, 1000.0)
"""By how much a length in a wrong metric unit is off, the likeliest first [-]."""

THINNEST_BARE = 10.0
"""Bare thickness under which a number might be how many there are [mm]."""
MOST_ALIKE = 30
"""Most pieces told at once as ``4 x 35`` [-]."""

YES = ("yes", "y", "si", "sí", "s")
NO = ("no", "n")
NOTHING = ("none", "no", "nothing", "ninguno", "ninguna", "nada")
"""Answers that say that there is nothing of the kind."""

_NUMBER = r"(?:[0-9]{1,6}(?:\.[0-9]{1,6})?|\.[0-9]{1,6})"
_SINGLE = re.compile(rf"({_NUMBER}) *([^0-9 .,+-][^0-9.,+-]*)?")
_FEET = re.compile(
    rf"([0-9]{{1,2}}) *(?:ft|foot|feet|'|pies?) *({_NUMBER}) *(?:in|inch|inches|\"|pulgadas?)?"
)
_METRES = re.compile(r"([0-9]) *m *([0-9]{2})(?: *cm)?")
_CLOCK = re.compile(r"([0-9]{1,2}) *(?:h|:) *([0-5][0-9])(?: *min)?")
_PIECE = re.compile(
    rf"(?:([0-9]{{1,2}}) *[x×*] *)?({_NUMBER})(?: *(mm|cm|m|in|inch|inches|pulgadas?|\"))?(?= |$)"
)
_TERM = re.compile(
    r"(?:([0-9]{1,3}(?:\.[0-9]{1,3})?) *)?(a4|letters?|cards?)|([0-9]{1,4}(?:\.[0-9]{1,3})?) *(?:mm)?"
)
_MOST_TERMS = 6
"""Most parts of one sum."""
_AMOUNT = re.compile(r"([0-9]{1,12})(?:\.([0-9]+))?")


class AskedBack(Unreadable):
    """An answer that may be meant otherwise, or is unlikely; ``meant`` is what a yes takes, as it is kept."""

    def __init__(self, meant: str, note: str, allowed: str) -> None:
        self.meant = meant
        super().__init__(allowed, note=note)


def laid_length(text: str) -> str | None:
    """Turn a sum of sheets, cards and millimetres into millimetres with at most one decimal.

    A number in front counts how often a ruler was laid; half a sheet is 0.5. None where no sheet or card is
    named, or the sum cannot be read.

    >>> laid_length("2 A4 + 1 card + 10"), laid_length("0.5 letter"), laid_length("465")
    ('689.6', '139.7', None)
    """
    parts = text.lower().split("+")
    if len(parts) > _MOST_TERMS:
        return None
    total, laid = 0.0, False
    for part in parts:
        term = _TERM.fullmatch(part.strip())
        if term is None:
            return None
        if term[2]:
            total += float(term[1] or 1) * RULERS[term[2].removesuffix("s")]
            laid = True
        else:
            total += float(term[3])
    return kept_number(total, "length") if laid else None


def kept_number(value: float, kind: QuantityKind) -> str:
    """Number as it is kept, a half rounded up; the form works out the same.

    >>> kept_number(1625.6, "length"), kept_number(465.0, "length"), kept_number(4.5, "hours")
    ('1625.6', '465', '4.5')
    """
    decimals = DECIMALS[kind]
    return format_number(math.floor(value * 10**decimals + 0.5) / 10**decimals, decimals)


def plain_text(text: str) -> str:
    """Text in small letters with plain quotes, decimal points and single blanks.

    >>> plain_text("1,63 M"), plain_text("5’4")
    ('1.63 m', "5'4")
    """
    text = " ".join(text.lower().split())
    for sign, plain in (("’", "'"), ("′", "'"), ("”", '"'), ("″", '"'), ("''", '"')):
        text = text.replace(sign, plain)
    return re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text) if text.count(",") == 1 else text


def read_measured(text: str, limits: Range, usual: Range | None) -> str:
    """Read a number as people write it and give it as it is kept.

    Without `usual` every value within the limits is taken as it stands, as one that was kept before. Raises
    `AskedBack`, and `Unreadable` where nothing could be meant.
    """
    kind = limits.kind
    laid = laid_length(text.replace(",", ".")) if kind == "length" else None
    value, number = (float(laid), None) if laid is not None else _amount_of(text, limits)
    return _settled(value, number, limits, usual)


def _amount_of(text: str, limits: Range) -> tuple[float, float | None]:
    """Value in the unit that is kept, and the bare number where no unit stands behind it."""
    kind, plain = limits.kind, plain_text(text)
    if kind == "length":
        if (feet := _FEET.fullmatch(plain)) and float(feet[2]) < 12.0:
            return float(feet[1]) * 304.8 + float(feet[2]) * 25.4, None
        if metres := _METRES.fullmatch(plain):
            return float(metres[1]) * 1000.0 + float(metres[2]) * 10.0, None
    if kind in ("hours", "minutes") and (clock := _CLOCK.fullmatch(plain)):
        minutes = float(clock[1]) * 60.0 + float(clock[2])
        return (minutes / 60.0 if kind == "hours" else minutes), None
    single = _SINGLE.fullmatch(plain)
    unit = (single[2] or "").strip() if single else ""
    if single is None or (unit and unit not in TYPED_UNITS[kind]):
        raise Unreadable(f"{range_text(limits)}, {how_written(kind)}")
    number = float(single[1])
    return (number * TYPED_UNITS[kind][unit], None) if unit else (number, number)


def _settled(value: float, number: float | None, limits: Range, usual: Range | None) -> str:
    """Text kept of a value that may have been written in another unit."""
    kind = limits.kind
    kept = kept_number(value, kind)
    if kind == "count" and value != math.floor(value):
        raise Unreadable(range_text(limits))
    possible = float(kept) in limits
    if possible and (usual is None or float(kept) in usual):
        return kept
    if usual is None:
        raise Unreadable(range_text(limits))
    factors = () if kind != "length" else OTHER_UNIT if number is None else BARE_LENGTHS
    others = [(factor, kept_number(value * factor, kind)) for factor in factors]
    meant = [one for one in others if float(one[1]) in usual]
    if number is not None and not possible and len(meant) == 1 and meant[0][0] != 25.4:
        return meant[0][1]
    if not possible:
        meant = meant or [one for one in others if float(one[1]) in limits]
        if not meant:
            raise Unreadable(range_text(limits))
    guess = meant[0][1] if meant else kept
    if not possible:
        note = tr("{value} cannot be.", value=value_text(kept, kind))
    else:
        note = tr("{value} is unlikely.", value=value_text(kept, kind))
    usually = tr("Usual is {range}.", range=range_text(usual))
    if guess == kept:
        asked = tr("Is it right? Answer yes, or type it again.")
    else:
        asked = tr("Did you mean {value}? Answer yes, or type it again.", value=value_text(guess, kind))
    raise AskedBack(guess, f"{note} {usually} {asked}", range_text(limits))


def value_text(kept: str, kind: QuantityKind) -> str:
    """A number that was kept, with its unit, for people."""
    if kind == "length":
        return shown_length(float(kept))
    units = {"hours": tr("{number} h"), "minutes": tr("{number} min")}
    return units.get(kind, "{number}").replace("{number}", shown_number(kept))


def range_text(limits: Range) -> str:
    """Lowest and highest value with their unit, for people."""
    return tr(
        "{low} to {high}",
        low=shown_number(format_number(limits.low)),
        high=value_text(format_number(limits.high), limits.kind),
    )


def how_written(kind: QuantityKind) -> str:
    """How a number of a kind may be written."""
    if kind == "length":
        return tr("as 465, 46.5 cm, 1.63 m, 18 in or 5'4")
    if kind == "hours":
        return tr("as 5, 4.5 or 4 h 30")
    if kind == "minutes":
        return tr("as 90 or 1.5 h")
    return tr("as a whole number")


def read_pieces(text: str, limits: Range, usual: Range | None) -> list[str]:
    """Read the thickness of each piece, as ``38 42 25``, ``4 x 35`` or ``3,8 4,2 cm``.

    A bare number that might be how many there are is never taken for a thickness.
    """
    allowed = tr('the thickness of each, as "38 42 25", or "4 x 35" for four of 35 mm; or none')
    found: list[tuple[int, float, str]] = []
    rest = _without_separators(text.lower())
    while rest:
        piece = _PIECE.match(rest)
        if piece is None:
            raise Unreadable(allowed)
        found.append((int(piece[1] or 1), float(piece[2]), piece[3] or ""))
        rest = rest[piece.end() :].lstrip()
    if not found or sum(times for times, _, _ in found) > MOST_LENGTHS:
        raise Unreadable(allowed, note=tr("at most {most} pieces", most=MOST_LENGTHS) if found else "")
    unit, out, back = found[-1][2], [], None
    for times, number, own in found:
        if times > MOST_ALIKE or times < 1:
            raise Unreadable(allowed)
        given = own or unit
        if not given and number < THINNEST_BARE and usual is not None:
            if number.is_integer():
                note = tr("{number} could be how many there are.", number=shown_number(format_number(number)))
                raise Unreadable(allowed, note=note)
            # nobody has three and a half books, and no book is as thin as that
            given = "cm"
        value = number * TYPED_UNITS["length"][given or "mm"]
        try:
            kept = _settled(value, None if given else number, limits, usual)
        except AskedBack as asked:
            kept, back = asked.meant, asked
        out += [kept] * times
    if back is not None:
        raise AskedBack(", ".join(out), back.note, allowed)
    return out


def _without_separators(text: str) -> str:
    """Pieces with blanks between: a comma parts two lengths unless a decimal stands behind it.

    >>> _without_separators("38,42,25"), _without_separators("3,8 4,2 cm"), _without_separators("38,42")
    ('38 42 25', '3.8 4.2 cm', '38 42')
    """
    text = re.sub(r"(?<![0-9,])([0-9]{1,2}),([0-9])(?![0-9,])", r"\1.\2", text.replace(";", " "))
    return " ".join(re.sub(r",| and | y ", " ", text).split())


def read_amount(text: str, currency: str) -> str:
    """Read money in hand, with decimal point or comma, and give it with the decimals of its currency.

    >>> read_amount("25,5", "EUR"), read_amount("€ 40", "EUR")
    ('25.50', '40.00')
    """
    decimals = currencies()[currency]
    example = shown_number("40" if decimals == 0 else "40." + "0" * decimals)
    plain = re.sub(r"[€$£¥]", "", text.lower().replace(currency.lower(), "")).strip()
    plain = re.sub(r",(?=[0-9]+$)", ".", plain) if plain.count(",") == 1 and "." not in plain else plain
    match = _AMOUNT.fullmatch(plain)
    if match is None or len(match[2] or "") > decimals:
        raise Unreadable(tr("an amount in {currency}, as {example}", currency=currency, example=example))
    whole = str(int(match[1]))
    return f"{whole}.{(match[2] or '').ljust(decimals, '0')}" if decimals else whole
