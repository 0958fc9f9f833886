"""Records of a catalog: fixes, items, sources and warning signs. Data people edit, never code.

A condition on a state is written as ``keyboard is separate`` or ``leg_gap at most 10``. There are six
relations and no others; conditions are joined by the lists ``all`` and ``any`` of the record that holds
them, never inside the text. A sentence may name conditions too (`Sentence`), and is then said only where they
are met. What is cut out of the materials of a made fix, and how large, is a list of
`Cut`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import model_validator

from deskmend.errors import Unreadable
from deskmend.intake.reading.fields import EXPRESSION, ID, YES_NO, Expression, FieldKind, free_text, word
from deskmend.intake.reading.records import Record
from deskmend.measures import Minutes
from deskmend.published import Backing

_Relation = Literal["is", "is not", "at least", "at most", "over", "under"]

_ALLOWED_PREDICATE = (
    "NAME is WORD, NAME is not WORD, NAME at least _NUMBER, NAME at most _NUMBER, NAME over _NUMBER or "
    "NAME under _NUMBER"
)

_PATTERN = re.compile(
    r"(?P<name>[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)?)\s+(?P<relation>is not|is|at least|at most|over|under)\s+"
    r"(?P<value>[a-z][a-z0-9_]*|-?[0-9]+(\.[0-9]+)?)",
    re.ASCII,
)


@dataclass(frozen=True)
class Predicate:
    """One condition: a field or quantity, and a word or number it is held against.

    What is unknown meets no condition at all, so it never makes a fix allowed.
    """

    name: str
    relation: _Relation
    value: str | float

    def __str__(self) -> str:
        """As written."""
        value = f"{self.value:g}" if isinstance(self.value, float) else self.value
        return f"{self.name} {self.relation} {value}"


def _read_predicate(value: Any, _: dict[str, Any]) -> Predicate:
    """Read a condition as it is written.

    >>> _read_predicate("leg_gap at most 10", {})
    Predicate(name='leg_gap', relation='at most', value=10.0)
    >>> str(_read_predicate("keyboard is not separate", {}))
    'keyboard is not separate'
    """
    if isinstance(value, Predicate):
        return value
    match = _PATTERN.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        raise Unreadable(_ALLOWED_PREDICATE)
    relation: Any = match["relation"]
    is_word = match["value"][0].isalpha()
    if is_word != (relation in ("is", "is not")):
        raise Unreadable(
            _ALLOWED_PREDICATE, note="words go with is, numbers with at least, at most, over and under"
        )
    return Predicate(match["name"], relation, match["value"] if is_word else float(match["value"]))


PREDICATE = FieldKind(_ALLOWED_PREDICATE, _read_predicate)
"""Kind of a field that gives a `Predicate`."""


FixKind = Literal["rearranged", "habit", "made", "bought"]
FixScope = Literal["person", "device", "place", "task"]
SetupStage = Literal[
    "room", "seat", "feet", "back", "desk", "keyboard", "arms", "screen", "paper", "light", "phone", "habits"
]
Urgency = Literal["emergency", "today", "soon"]
CaseOffer = Literal[
    "places",
    "other_seats",
    "seat.height_range",
    "seat.slope_range",
    "seat.recline_range",
    "seat.armrest_range",
    "desk.height_range",
    "monitor.top_range",
]
Grade = Literal["A", "B", "C", "D"]
Tested = Literal["direct", "near", "function", "none"]
Leave = Literal["none", "owner", "employer"]
FixCheck = Literal[
    "feet",
    "knees",
    "thighs",
    "desk",
    "armrests",
    "keys",
    "mouse",
    "screen",
    "second",
    "ahead",
    "paper",
    "text",
    "behind_knee",
    "turns",
    "near",
]

_Id = Annotated[str, ID]
_Line = Annotated[str, free_text(400)]
_Short = Annotated[str, free_text(90)]
_Title = Annotated[str, free_text(120)]


def number_between(allowed: str, low: float, high: float, whole: bool = False) -> FieldKind:
    """Kind of a field that gives a number from `low` to `high`, told as `allowed`."""

    def read(value: Any, _: dict[str, Any]) -> float | int:
        try:
            number = float(value)
        except (TypeError, ValueError):
            raise Unreadable(allowed) from None
        if not low <= number <= high or (whole and number != int(number)):
            raise Unreadable(allowed)
        return int(number) if whole else number

    return FieldKind(allowed, read)


_COUNT = number_between("a whole number from 1 to 100", 1, 100, whole=True)
_QUANTITY = number_between("a whole number from 1 to 10000", 1, 10_000, whole=True)
_NUMBER = number_between("a number from -10000 to 10000", -10_000, 10_000)
_MINUTES = number_between("whole minutes, a multiple of 5, up to 1200", 0, 1200, whole=True)
SHARE = number_between("a part from 0 to 1", 0, 1)
_SKILL = number_between("1, 2 or 3", 1, 3, whole=True)
_MONTHS = number_between("whole months from 1 to 600", 1, 600, whole=True)
PEOPLE = number_between("a whole number of people", 1, 10_000_000, whole=True)
_YEAR = number_between("a year from 1850 to 2100", 1850, 2100, whole=True)


class Cut(Record):
    """One kind of piece; lengths [mm] are sums of numbers, ``size`` and fields of the state."""

    part: Annotated[str, free_text(80)]
    """What the piece becomes."""
    of: _Id | None = None
    """Item of the fix's materials it is cut from; left out where it is cut off what stands there."""
    count: Annotated[int, _COUNT] = 1
    """How many, all alike."""
    length: Annotated[Expression, EXPRESSION]
    """Longest side [mm]."""
    width: Annotated[Expression, EXPRESSION] | None = None
    """Second side [mm]; left out where it is the material's own."""
    width_to: Annotated[Expression, EXPRESSION] | None = None
    """Width at the other end, where the piece tapers [mm]."""
    thickness: Annotated[Expression, EXPRESSION] | None = None
    """Third side [mm]; left out where it is the material's own."""
    thickness_to: Annotated[Expression, EXPRESSION] | None = None
    """Thickness at the other end, where the piece tapers [mm]."""
    from_size: Annotated[int, _QUANTITY] | None = None
    """The piece is needed only from this size on, in the unit of the size."""
    fit: Annotated[bool, YES_NO] = False
    """The size is a start: measure where it goes before cutting."""

    @model_validator(mode="after")
    def _sides(self) -> Cut:
        for side in ("width", "thickness"):
            if getattr(self, f"{side}_to") is not None and getattr(self, side) is None:
                raise Unreadable(f"{side}_to only with {side}")
        return self

    @property
    def sides(self) -> tuple[tuple[Expression, Expression | None], ...]:
        """Length, width and thickness as far as given, each with its value at the other end."""
        given = (
            (self.length, None),
            (self.width, self.width_to),
            (self.thickness, self.thickness_to),
        )
        return tuple((side, other) for side, other in given if side is not None)


def _effect_value(value: Any, _: dict[str, Any]) -> float | str:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    if not isinstance(value, str) or not value:
        raise Unreadable("a number, a word, or size")
    try:
        return float(value)
    except ValueError:
        return value


_EFFECT_VALUE = FieldKind("a number, a word, or size", _effect_value)


def _names(value: Any, _: dict[str, Any]) -> str:
    text = value if isinstance(value, str) else ""
    parts = text.split(".")
    if not 1 <= len(parts) <= 2 or not all(p.replace("_", "a").isalnum() and p.islower() for p in parts):
        raise Unreadable("a field of the state, as seat.height")
    return text


_FIELD_NAME = FieldKind("a field of the state, as seat.height", _names)


class Size(Record):
    """Sizes of a fix: a range with a step, what owned pieces add up to, words, or what the case offers."""

    unit: Annotated[str, word(Literal["mm", "deg", "min", "percent", "word"])] = "mm"
    """Unit of the size."""
    low: Annotated[float, _NUMBER] | None = None
    """Smallest size."""
    high: Annotated[float, _NUMBER] | None = None
    """Largest size."""
    step: Annotated[float, _NUMBER] | None = None
    """Distance between sizes."""
    pieces: _Id | None = None
    """Owned item whose pieces are stacked; sizes are what they add up to, between low and high."""
    words: tuple[_Id, ...] = ()
    """Choices by word."""
    of: Annotated[CaseOffer, word(CaseOffer)] | None = None
    """What the case offers: places, other seats, or a range within which something adjusts."""

    @model_validator(mode="after")
    def _one_way(self) -> Size:
        ways = [bool(self.words), self.pieces is not None, self.of is not None]
        plain = self.low is not None and self.high is not None and self.step is not None
        if sum(ways) > 1 or (sum(ways) == 0 and not plain):
            raise Unreadable("either low, high and step; or pieces with low and high; or words; or of")
        if self.pieces is not None and (self.low is None or self.high is None):
            raise Unreadable("pieces with low and high")
        if self.low is not None and self.high is not None and self.low > self.high:
            raise Unreadable("low no larger than high")
        if self.step is not None and self.step <= 0:
            raise Unreadable("a step over 0")
        return self


class Effect(Record):
    """One change of the state: set, add, at_most or at_least, of a number, a word, or the chosen size."""

    change: Annotated[str, _FIELD_NAME]
    """Field that changes."""
    set: Annotated[float | str, _EFFECT_VALUE] | None = None
    """New value."""
    add: Annotated[float | str, _EFFECT_VALUE] | None = None
    """What is added."""
    at_most: Annotated[float | str, _EFFECT_VALUE] | None = None
    """Upper bound put on the value."""
    at_least: Annotated[float | str, _EFFECT_VALUE] | None = None
    """Lower bound put on the value."""
    times: Annotated[float, _NUMBER] = 1.0
    """Factor on the size, as 0.75 for a pad that squashes by a quarter."""

    @model_validator(mode="after")
    def _one_operation(self) -> Effect:
        given = [v for v in (self.set, self.add, self.at_most, self.at_least) if v is not None]
        if len(given) != 1:
            raise Unreadable("exactly one of set, add, at_most, at_least")
        return self

    @property
    def operation(self) -> str:
        """``set``, ``add``, ``at_most`` or ``at_least``."""
        return next(op for op in ("set", "add", "at_most", "at_least") if getattr(self, op) is not None)

    @property
    def value(self) -> float | str:
        """What is set, added or bounded by; ``size`` for the chosen size."""
        value: float | str = getattr(self, self.operation)
        return value


class Material(Record):
    """One thing a fix takes."""

    item: _Id
    """Item of ``items.yaml``."""
    quantity: Annotated[int, _QUANTITY] | None = None
    """How much, in the item's unit; left out where the chosen pieces are the material."""
    from_size: Annotated[int, _QUANTITY] | None = None
    """It is needed only from this size on, in the unit of the size, besides what smaller ones take."""
    instead: _Id | None = None
    """Item that does as well: taken where enough of it is owned, and not enough of the other."""
    instead_quantity: Annotated[int, _QUANTITY] | None = None
    """How much of that, in its unit."""

    @model_validator(mode="after")
    def _both_counted(self) -> Material:
        counted = self.quantity is not None and self.instead_quantity is not None
        if (self.instead is None) != (self.instead_quantity is None) or (self.instead and not counted):
            raise Unreadable("instead with quantity and instead_quantity")
        if self.from_size is not None and (self.quantity is None or self.instead is not None):
            raise Unreadable("from_size with quantity and without instead")
        return self

    def at_hand(self, owned: Callable[[str], int]) -> Material:
        """What is taken of the two by one who owns so much of an item."""
        if self.instead is None or self.quantity is None or self.instead_quantity is None:
            return self
        if owned(self.item) >= self.quantity or owned(self.instead) < self.instead_quantity:
            return self
        return Material(item=self.instead, quantity=self.instead_quantity)


class Need(Record):
    """A rule on the final state, for safety or sense."""

    when: tuple[Annotated[Predicate, PREDICATE], ...] = ()
    """The rule holds only where all of these do; with none it always holds."""
    all: tuple[Annotated[Predicate, PREDICATE], ...] = ()
    """Every one of these must hold."""
    any: tuple[Annotated[Predicate, PREDICATE], ...] = ()
    """At least one of these must hold."""
    why: _Line
    """Reason, shown where the rule blocks."""

    @model_validator(mode="after")
    def _something(self) -> Need:
        if not self.all and not self.any:
            raise Unreadable("all or any with at least one condition")
        return self


class Caveat(Record):
    """For whom a fix is not: a warning sign, or a condition on the state."""

    sign: _Id | None = None
    """Warning sign of ``screening.yaml``."""
    when: Annotated[Predicate, PREDICATE] | None = None
    """Condition under which the fix is not offered."""
    why: _Line
    """Reason."""


class Conditional(Record):
    """What is said only to whom it can concern, by the state in which a step stands."""

    when: tuple[Annotated[Predicate, PREDICATE], ...] = ()
    """Said only where all of these are met; with none everywhere."""
    unless: tuple[Annotated[Predicate, PREDICATE], ...] = ()
    """Not said where one of these is met; what is unknown meets none."""

    @property
    def conditions(self) -> tuple[Predicate, ...]:
        """Every condition it names."""
        return (*self.when, *self.unless)


class Sentence(Conditional):
    """One sentence or a few for people; in a file a text, or a group of keys where it has conditions."""

    say: _Line
    """What is said; {size} stands for the size, {length} for the length below."""
    length: Annotated[Expression, EXPRESSION] | None = None
    """A length [mm] worked out for the person, as that of a `Cut`."""
    buying: Annotated[bool, YES_NO] = False
    """It helps to choose or to buy: not said to whom the thing is given."""
    body_sign: Annotated[bool, YES_NO] = False
    """A sign of the body to mind; a letter tells all of them at its end."""

    @model_validator(mode="before")
    @classmethod
    def _from_text(cls, value: Any) -> Any:
        return {"say": value} if isinstance(value, str) else value

    @model_validator(mode="after")
    def _length_told(self) -> Sentence:
        if (self.length is not None) != ("{length}" in self.say):
            raise Unreadable("length where {length} is said, and only there")
        return self


class WatchFor(Conditional):
    """Advice that depends on what happens; bought only then."""

    happens: _Line
    """What to look out for."""
    then: _Line
    """What to do in that case."""
    item: _Id | None = None
    """What would then be needed."""
    quantity: Annotated[int, _QUANTITY] = 1
    """How much of it, in the item's unit."""


class OftenDropped(Record):
    """A fix that many give up, and what to turn to then."""

    why: _Line
    """How many gave it up, in plain words."""
    source: _Id
    """Key of ``sources.yaml``."""
    instead: _Line
    """What to do in that case."""
    fix: _Id | None = None
    """Fix of the catalog that does the same."""


class KeptUp(Record):
    """On what part of the days people still do what a habit asks for."""

    share: Annotated[float, SHARE]
    """Of all days, 0 to 1."""
    sources: tuple[_Id, ...]
    """Keys of ``sources.yaml``."""
    why: _Line
    """How it comes from them, in plain words."""
    status: Annotated[Backing, word(Backing)]
    """How well it is known."""


class EvidenceNote(Record):
    """What stands behind a fix."""

    source: _Id
    """Key of ``sources.yaml``."""
    n: Annotated[int, PEOPLE] | None = None
    """People studied."""
    finding: _Line
    """What was found, in our own words."""
    grade: Annotated[Grade, word(Grade)]
    """A trial or review, B laboratory, C guidance or weak study, D no study."""
    tested: Annotated[Tested, word(Tested)]
    """direct: this object; near: a nearly identical one; function: another with the same function; none."""
    verdict: Annotated[str, word(Literal["helps", "no_benefit_shown", "was_placebo", "mixed"])] = "helps"
    """What the finding says of the fix."""


class Fix(Record):
    """One fix: what it changes, what it takes, what it needs, and what stands behind it."""

    id: _Id
    """Name, unique in the catalog."""
    title: _Title
    """What it is, in a few words."""
    short: _Short | None = None
    """How it is done in one line, for the printed sheet; {size} stands for the size."""
    kind: Annotated[FixKind, word(FixKind)]
    """rearranged and habit cost nothing, made and bought take materials."""
    decision: _Id
    """Fixes of one decision exclude each other."""
    stage: Annotated[SetupStage, word(SetupStage)]
    """Where it stands in the order of setting up."""
    scope: Annotated[FixScope, word(FixScope)]
    """Whether there is one a person, device, place or task."""
    carried: Annotated[bool, YES_NO] = False
    """Bought once, it serves every place or task."""
    size: Size | None = None
    """Sizes it can have."""
    effects: tuple[Effect, ...]
    """What it changes."""
    materials: tuple[Material, ...] = ()
    """What it takes."""
    cuts: tuple[Cut, ...] = ()
    """What is cut out of the materials, piece by piece."""
    tools: tuple[_Id, ...] = ()
    """Tools it takes."""
    minutes: Annotated[Minutes, _MINUTES]
    """Work, a multiple of 5 [min]."""
    skill: Annotated[int, _SKILL] = 1
    """1 anyone, 2 some practice, 3 confident with tools."""
    needs: tuple[Need, ...] = ()
    """Rules on the final state."""
    conflicts: tuple[_Id, ...] = ()
    """Fixes of other decisions that cannot go with it at the same person, place or task; one names both."""
    not_for: tuple[Caveat, ...] = ()
    """For whom it is not."""
    alters: Annotated[bool, YES_NO] = False
    """It alters furniture."""
    leave: Annotated[Leave, word(Leave)] = "none"
    """Whose leave it takes."""
    reversible: Annotated[bool, YES_NO] = True
    """It comes off again."""
    on_request: Annotated[bool, YES_NO] = False
    """Dear or drastic: offered only where a wish or ``--must`` asks for it."""
    lifetime_months: Annotated[int, _MONTHS] | None = None
    """How long it lasts."""
    how: tuple[Sentence, ...] = ()
    """Steps to make or set it, in order; {size} stands for the size."""
    checks: tuple[Annotated[FixCheck, word(FixCheck)], ...] = ()
    """Measures by which one sees that it is right; what they have to be follows from the plan."""
    right: Sentence | None = None
    """How to see the rest that nobody can measure."""
    upkeep: Sentence | None = None
    """What keeps it so."""
    side_effects: tuple[Sentence, ...] = ()
    """What else it changes."""
    cautions: tuple[Sentence, ...] = ()
    """What could hurt."""
    watch: tuple[WatchFor, ...] = ()
    """Advice for what may happen."""
    recheck: Sentence | None = None
    """What to look at after two weeks; ``right`` if left out."""
    often_dropped: OftenDropped | None = None
    """That many give it up, and the second choice."""
    kept_up: KeptUp | None = None
    """On what part of the days a habit is kept; every day if left out."""
    evidence: tuple[EvidenceNote, ...] = ()
    """What stands behind it."""

    @property
    def needed(self) -> frozenset[str]:
        """Fields and quantities of which its rules ask something."""
        return frozenset(rule.name for need in self.needs for rule in (*need.all, *need.any))

    @model_validator(mode="after")
    def _sound(self) -> Fix:
        if self.minutes % 5:
            raise Unreadable("minutes as a multiple of 5")
        if any(e.value == "size" for e in self.effects) and self.size is None:
            raise Unreadable("a size, since an effect uses it")
        if any(m.quantity is None for m in self.materials) and (
            self.size is None or self.size.pieces is None
        ):
            raise Unreadable("a quantity for every material, unless the size is made of pieces")
        if not {cut.of for cut in self.cuts if cut.of is not None} <= {m.item for m in self.materials}:
            raise Unreadable("cuts of items that stand among the materials")
        return self

    @property
    def sentences(self) -> Iterator[tuple[str, Sentence]]:
        """All that is said of doing it, each with the key it stands under."""
        for key in ("how", "side_effects", "cautions"):
            yield from ((key, one) for one in getattr(self, key))
        for key in ("right", "upkeep", "recheck"):
            if (one := getattr(self, key)) is not None:
                yield key, one

    def made_of(self, owned: Callable[[str], int]) -> Fix:
        """The same fix made of what is at hand, where that does as well; itself where nothing changes."""
        materials = tuple(material.at_hand(owned) for material in self.materials)
        return self if materials == self.materials else self.model_copy(update={"materials": materials})

    def takes_at(self, size: float | str | None) -> tuple[Material, ...]:
        """What it takes at a size, each item once."""
        number = size if isinstance(size, float | int) else math.nan
        found: dict[str, Material] = {}
        for one in self.materials:
            if one.from_size is not None and not number >= one.from_size:  # also where there is no size (nan)
                continue
            before = found.get(one.item)
            if before is not None and before.quantity is not None and one.quantity is not None:
                one = before.model_copy(update={"quantity": before.quantity + one.quantity})
            found[one.item] = one
        return tuple(found.values())

    def __hash__(self) -> int:
        """Hash the id alone: equal fixes have equal ids, and their evidence is long."""
        return hash(self.id)


class Advice(Conditional):
    """Something worth knowing beside a plan. It changes no field, so it is never scored."""

    id: _Id
    """Name, unique among advice."""
    title: _Title
    """What it is, in a few words."""
    where_amiss: Annotated[bool, YES_NO] = False
    """It changes the place, so it is not said of one that fits and is to stay as it is."""
    how: tuple[Sentence, ...]
    """What to do, in order."""
    cautions: tuple[Sentence, ...] = ()
    """What could hurt."""
    evidence: tuple[EvidenceNote, ...]
    """What stands behind it."""

    @property
    def sentences(self) -> Iterator[tuple[str, Conditional]]:
        """Itself, and all that is said of it, each with the key it stands under."""
        yield "when", self
        yield from (("how", one) for one in self.how)
        yield from (("cautions", one) for one in self.cautions)


class CatalogItem(Record):
    """Something a fix takes: owned, bought, or found at home."""

    id: _Id
    """Name, unique among items."""
    title: _Title
    """What it is; no brand, no shop."""
    unit: Annotated[str, word(Literal["piece", "cm", "pair", "set", "sheet"])] = "piece"
    """What quantities and packs count."""
    ask: _Line | None = None
    """What to ask for, or to look at, when buying."""
    at_home: Annotated[bool, YES_NO] = False
    """Mostly found at home, so one asks before buying it for somebody."""
    used: _Line | None = None
    """What to look at besides where the price is for a used one."""
    sized: Annotated[bool, YES_NO] = False
    """It is bought in the size of the step that takes it, and serves no other size."""
    shared: Annotated[bool, YES_NO] = False
    """One pack may serve several people of a fund, as a roll of tape."""


class Source(Record):
    """One source that numbers and findings cite."""

    key: _Id
    """Short name."""
    title: Annotated[str, free_text(300)]
    """Authors and title."""
    year: Annotated[int, _YEAR] | None = None
    """Year."""
    place: Annotated[str, free_text(300)] = ""
    """Journal, publisher or standard number."""
    status: Annotated[Backing, word(Backing)]
    """How far it has been seen."""

    @property
    def cited(self) -> str:
        """Authors and title, with the year where there is one."""
        return self.title if self.year is None else f"{self.title} ({self.year})"


class Sign(Record):
    """A warning sign: what comes before any plan."""

    id: _Id
    """Name, as in a case's warning_signs."""
    sign: _Line
    """What the person notices."""
    urgency: Annotated[Urgency, word(Urgency)]
    """emergency: emergency care now; today: advice today; soon: a clinician, before buying anything."""
    status: Annotated[Backing, word(Backing)]
    """How far it has been seen."""
    blocks: tuple[_Id, ...] = ()
    """Decisions in which nothing may then be chosen."""


class FixFile(Record):
    """One family of fixes."""

    format: Annotated[str, word(Literal["deskmend-fixes/1"])]
    """Format and version."""
    fixes: tuple[Fix, ...]
    """The fixes, in the order that settles ties."""


class ItemFile(Record):
    """All items."""

    format: Annotated[str, word(Literal["deskmend-items/1"])]
    """Format and version."""
    items: tuple[CatalogItem, ...]
    """The items."""


class SourceFile(Record):
    """All sources."""

    format: Annotated[str, word(Literal["deskmend-sources/1"])]
    """Format and version."""
    sources: tuple[Source, ...]
    """The sources."""


class SignFile(Record):
    """All warning signs."""

    format: Annotated[str, word(Literal["deskmend-signs/1"])]
    """Format and version."""
    signs: tuple[Sign, ...]
    """The signs."""


class AdviceFile(Record):
    """All advice."""

    format: Annotated[str, word(Literal["deskmend-advice/1"])]
    """Format and version."""
    advice: tuple[Advice, ...]
    """The advice, in the order shown."""
