"""The public Python calls: money as people write it, everything else as the layers below take it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from deskmend.errors import InputFaults, option_fault
from deskmend.intake.case_file import load_case, load_sender
from deskmend.intake.catalog import load_catalog, load_learned
from deskmend.intake.prices import load_prices
from deskmend.measures import parse_amount

if TYPE_CHECKING:
    from deskmend.grants.fund import FundShared
    from deskmend.grants.people.workers import Workers
    from deskmend.grants.terms import ReasonsFor
    from deskmend.intake.applicants import ApplicantTable
    from deskmend.intake.case import Case
    from deskmend.intake.catalog import Catalog
    from deskmend.intake.prices import PriceTable
    from deskmend.planning.assessment import Assessment
    from deskmend.planning.budgets import Comparison
    from deskmend.planning.observed import Pictured
    from deskmend.planning.plan import Plan

__all__ = [
    "Amount",
    "add_entries",
    "allocate",
    "assess",
    "check_allocation",
    "compare",
    "load_case",
    "load_catalog",
    "load_learned",
    "load_prices",
    "measure",
    "minor_units",
    "plan",
    "strike_out",
    "undo_round",
]

Amount = str | int | Decimal
"""Money in major units: ``"40.00"``, ``40`` or ``Decimal("40.00")``."""


def minor_units(amount: Amount, currency: str) -> int:
    """Turn money as people give it into whole minor units.

    Parameters
    ----------
    amount : str, int or Decimal
        Major units, as ``"40.00"``.
    currency : str
        ISO 4217 code.

    Returns
    -------
    int
        Minor units [cents or the like].

    Raises
    ------
    TypeError
        A binary fraction or anything else is given: 0.1 has no exact binary value.
    deskmend.errors.Unreadable
        The amount is negative, has too many decimals, or is no number. A ``ValueError``.
    """
    return parse_amount(_as_text(amount), currency)


def _given(
    case: Case, catalog: Catalog | None, prices: PriceTable | None
) -> tuple[Catalog, PriceTable, list[str]]:
    from deskmend.planning.inputs import find_prices

    known = load_catalog() if catalog is None else catalog
    if prices is not None:
        return known, prices, []
    found = find_prices(case, known)
    return known, found.table, list(found.warnings)


def assess(
    case: Case,
    catalog: Catalog | None = None,
    prices: PriceTable | None = None,
    fixes: Sequence[str] = (),
) -> Assessment:
    """Assess a workplace, as it is or with some fixes applied together.

    Parameters
    ----------
    case : Case
        From `load_case`.
    catalog : Catalog, optional
        From `load_catalog`; the shipped one if left out.
    prices : PriceTable, optional
        From `load_prices`; if left out, ``prices.csv`` beside the case, else the shipped sample table.
    fixes : sequence of str
        Named ``[PLACE.|TASK.]FIX[=VALUE]``, as ``kitchen.screen_books=105``.

    Returns
    -------
    deskmend.planning.assessment.Assessment
        Strain in millionths of strain-hours a day [h/day]; quantities [mm] [deg] [lux]; cost [minor units].

    Raises
    ------
    deskmend.errors.InputFaults
        A name is wrong, or two of the fixes settle one decision.
    """
    from deskmend.planning.assessment import assess as assessed

    known, table, notes = _given(case, catalog, prices)
    return assessed(case, known, table, fixes, notes)


def plan(
    case: Case,
    catalog: Catalog | None = None,
    prices: PriceTable | None = None,
    budget: Amount | None = None,
    saving: Amount | None = None,
    minutes: int | None = None,
    reach: Mapping[str, object] | None = None,
    must: Sequence[str] = (),
    never: Sequence[str] = (),
    prove: bool = False,
    every_gain: bool = False,
) -> Plan:
    """Find the fix set that leaves least strain, then costs least, within money and time.

    Parameters
    ----------
    case : Case
        From `load_case`.
    catalog : Catalog, optional
        From `load_catalog`; the shipped one if left out.
    prices : PriceTable, optional
        From `load_prices`; if left out, ``prices.csv`` beside the case, else the shipped sample table.
    budget : str, int or Decimal, optional
        Money in hand [major units]; the case's own if left out.
    saving : str, int or Decimal, optional
        Money that comes in each month [major units]: purchases are then spread over the months to the case's
        horizon. The case's own if neither this nor a budget is given.
    minutes : int, optional
        Work in all [min]; the case's own if left out.
    reach : mapping, optional
        Scores to bring to a value or under, for the least money: ``rula`` and ``rosa`` as whole numbers [-];
        ``strain`` or a region in strain-hours with the person's weights [h/day], as ``{"neck": "0.5"}``.
    must, never : sequence of str
        Fixes that have to be, and must not be, in the plan.
    prove : bool
        Solve once more with the other engine, and raise if it comes to another plan. Every plan is proven
        by one engine without it.
    every_gain : bool
        The best plan itself, with every fix that takes anything off, however little.

    Returns
    -------
    deskmend.planning.plan.Plan
        Priced and scored again without the optimiser.

    Raises
    ------
    deskmend.planning.plan.NoPlan
        Nothing keeps to the limits, or reaches the goals within them.
    deskmend.errors.InputFaults
        A wish or a goal cannot be understood.
    ValueError
        An amount or the minutes are not allowed.
    deskmend.errors.DefectError
        A check inside failed: a defect of ours.
    """
    from deskmend.planning.plan import plan as planned
    from deskmend.planning.reach import goals_of

    goals = goals_of(reach or {}, "reach")
    if minutes is not None and (isinstance(minutes, bool) or not isinstance(minutes, int) or minutes < 0):
        raise ValueError(f"minutes: read {minutes!r}, allowed a whole number from 0")
    known, table, notes = _given(case, catalog, prices)
    money = None if budget is None else minor_units(budget, table.currency)
    monthly = None if saving is None else minor_units(saving, table.currency)
    return planned(
        case,
        known,
        table,
        money,
        minutes,
        must=must,
        never=never,
        notes=notes,
        goals=goals,
        prove=prove,
        saving=monthly,
        every_gain=every_gain,
    )


def compare(
    case: Case,
    catalog: Catalog | None = None,
    prices: PriceTable | None = None,
    at: Sequence[Amount] | None = None,
    every_gain: bool = False,
) -> Comparison:
    """Find the plan at every budget, or at those asked for.

    Parameters
    ----------
    case : Case
        From `load_case`; its budget and saving are not looked at.
    catalog : Catalog, optional
        From `load_catalog`; the shipped one if left out.
    prices : PriceTable, optional
        From `load_prices`; if left out, ``prices.csv`` beside the case, else the shipped sample table.
    at : sequence of str, int or Decimal, optional
        Budgets [major units]; every one at which the plan changes if left out.
    every_gain : bool
        The best plans themselves, also where one cannot be told from the one before.

    Returns
    -------
    deskmend.planning.budgets.Comparison
        Rungs with cost strictly rising and strain strictly falling, each plan checked again.

    Raises
    ------
    deskmend.planning.plan.NoPlan
        What must be in the plan cannot be had.
    deskmend.errors.InputFaults
        A wish cannot be understood.
    ValueError
        An amount is not allowed, or there is none.
    """
    from deskmend.planning.budgets import compared
    from deskmend.planning.ready_case import prepare

    known, table, notes = _given(case, catalog, prices)
    if isinstance(at, str) or (at is not None and not at):
        raise ValueError('at is a sequence of one or more amounts, as ["0", "20.00"]')
    budgets = None if at is None else [minor_units(amount, table.currency) for amount in at]
    return compared(prepare(case, known, table), budgets, notes, every_gain)


def measure(
    picture: str | Path | Sequence[str | Path],
    marks: str | Path | Sequence[str | Path],
    case: str | Path | None = None,
    place: str | None = None,
    catalog: Catalog | None = None,
    prices: PriceTable | None = None,
    confirmed: bool = False,
) -> Pictured:
    """Measure a workplace from pictures of one scene and their marks.

    Parameters
    ----------
    picture : str or Path, or a sequence of them
        JPEG, PNG or HEIF, taken from the person's side; several are of one scene in which nothing moved.
    marks : str or Path, or a sequence of them
        YAML files of format ``deskmend-marks/1``, one a picture: where the sheet and the points lie [px].
    case : str or Path, optional
        Case file: the posture is held against what the model expects there, the measures are put into a new
        case, and what to tape is ordered by what it could change in the plan. The file is left as it is.
    place : str, optional
        Id of the place that is pictured, where the case has several.
    catalog, prices : Catalog and PriceTable, optional
        What the plan is made from, as for `plan`.
    confirmed : bool
        Somebody has looked at the marks drawn back; the new case says so.

    Returns
    -------
    deskmend.planning.observed.Pictured
        ``measures``: lengths [mm] and angles [deg] with standard deviations and 95 % intervals; ``posture``:
        angles beside those expected [deg], and RULA of what was seen [-]; ``doubts``: what seems wrong with
        the marks; ``tape`` and ``plan_tape``: what is better taped; ``merged``: the case with the measures.

    Raises
    ------
    deskmend.errors.InputFaults
        A picture, its marks or the case cannot be read, with every fault.
    """
    from deskmend.planning.observed import measure_workplace, plan_tape

    pictures = [picture] if isinstance(picture, str | Path) else list(picture)
    of_each = [marks] if isinstance(marks, str | Path) else list(marks)
    if len(pictures) != len(of_each) or not pictures:
        raise ValueError(f"marks for each picture are needed: {len(pictures)} pictures, {len(of_each)} marks")
    found = measure_workplace(list(zip(pictures, of_each, strict=True)), case, place, confirmed)
    if found.merged is None:
        return found
    known, table, _ = _given(found.merged.case, catalog, prices)
    return replace(found, plan_tape=plan_tape(found.merged.case, known, table))


def allocate(
    applicants: ApplicantTable | str | Path,
    catalog: Catalog | None = None,
    prices: PriceTable | None = None,
    fund: Amount | None = None,
    policy: str = "most_relief",
    limit: Mapping[str, object] | None = None,
    cap: Amount | None = None,
    floor: Amount | None = None,
    group_share: Mapping[str, object] | None = None,
    already: str | Path | None = None,
    skip_invalid: bool = False,
    use_discomfort: bool = False,
    workers: int | Workers = 1,
    seconds: float | None = None,
    every_gain: bool = False,
    cap_in_all: Amount | None = None,
    reasons: ReasonsFor = "few",
    ledger: str | Path | None = None,
    out: str | Path | None = None,
    today: date | None = None,
    group_cap: Mapping[str, Amount] | None = None,
    columns: str | Path | None = None,
    letters: bool = False,
    unfinished_letters: bool = False,
    contact: str | None = None,
    sender: str | Path | None = None,
) -> FundShared:
    """Share a fund among many applicants, with proof.

    Parameters
    ----------
    applicants : ApplicantTable, str or Path
        From `load_applicants`, or the table's path.
    catalog : Catalog, optional
        From `load_catalog`; the shipped one if left out.
    prices : PriceTable, optional
        From `load_prices`, with tiers and stock; if left out, ``prices.csv`` beside the table, else the
        shipped sample table.
    fund : str, int or Decimal
        Money to share, what `already` gave included [major units].
    policy : str
        ``most_relief``, ``most_people`` (brought under `limit`) or ``worst_off_first``.
    limit : mapping, optional
        For ``most_people``: a published score, as ``{"rosa": 4}`` [-], or ``{"strain": "5.0"}`` [h/day].
    cap, floor : str, int or Decimal, optional
        Most and least for one person, at listed prices [major units].
    group_share : mapping, optional
        Part of the fund kept for a group, as ``{"shop": "0.25"}`` [-].
    already : str or Path, optional
        ``allocation.csv`` of an earlier round; nothing beside a ledger.
    skip_invalid : bool
        Set rows with faults aside instead of refusing the table.
    use_discomfort : bool
        Whether regions that trouble a person count for more.
    workers : int or Workers
        Processes that work plans out. With more than one, call this under ``if __name__ == "__main__":``,
        since each process begins by importing the program.
    seconds : float, optional
        Time the search may take [s].
    every_gain : bool
        Whether money goes for every gain, also where a plan cannot be told from a cheaper one of the person.
    cap_in_all : str, int or Decimal, optional
        Most for one person in all rounds [major units].
    reasons : str
        Whom to say why they are given nothing: ``few``, ``each`` or ``all``.
    ledger : str or Path, optional
        File that keeps all rounds: the fund goes on from what it says.  With `out` this round is added to it;
        else it is read alone.
    out : str or Path, optional
        New folder for the files that the command writes.
    today : date, optional
        Day of the round.
    group_cap : mapping, optional
        Most for all people of a group in all rounds, as ``{"shop": "500.00"}`` [major units].
    columns : str or Path, optional
        File with our names for the columns of the table; only where `applicants` is a path.
    letters : bool
        Write a letter for each person into `out`, where the search was finished; `unfinished_letters` also
        where it was broken off.
    contact : str, optional
        Whom letters say to ask.
    sender : str or Path, optional
        Who sends letters and lists: a file of format ``deskmend-sender/1``.

    Returns
    -------
    deskmend.grants.fund.FundShared
        Money in minor units, strain in millionths of strain-hours a day, relief in those times thousandths of
        weight; every plan applied, scored and priced again.

    Raises
    ------
    deskmend.errors.InputFaults
        Every fault of the table and of the wishes.
    deskmend.planning.plan.NoPlan
        The floor cannot be kept.
    TypeError
        An amount is a binary fraction.
    """
    from deskmend.grants.fund import fitted, load_inputs, read_wishes, share_fund
    from deskmend.grants.people.plans import PlanBasis
    from deskmend.grants.people.workers import InProcess, LocalProcesses
    from deskmend.intake.applicants import ApplicantTable, load_column_map, read_applicants
    from deskmend.report.decision import DecisionInputs, given_options, rounds_before, written_round

    known = load_catalog() if catalog is None else catalog
    renamed = None if columns is None else load_column_map(columns)
    told_by = None if sender is None else load_sender(sender)
    faults = []
    if ledger is not None and already is not None:
        faults.append(
            option_fault("already", str(already), "nothing beside a ledger, which knows all rounds")
        )
    if renamed is not None and isinstance(applicants, ApplicantTable):
        faults.append(option_fault("columns", str(columns), "nothing beside a table that is read already"))
    if (letters or unfinished_letters) and out is None:
        faults.append(option_fault("letters", None, "a folder for them: out"))
    if faults:
        raise InputFaults(faults)
    if isinstance(applicants, ApplicantTable) and prices is not None:
        inputs = fitted(applicants, prices, known, skip_invalid or bool(applicants.rejected))
    elif isinstance(applicants, ApplicantTable):
        inputs = load_inputs(applicants.file, known, None, skip_invalid or bool(applicants.rejected))
    elif prices is None:
        inputs = load_inputs(applicants, known, None, skip_invalid, today, renamed)
    else:
        read, wrong = read_applicants(applicants, known, renamed)
        if read is None:
            raise InputFaults(wrong)
        inputs = fitted(read, prices, known, skip_invalid)
    if out is not None:
        from deskmend.cli.output import refuse_folder

        refuse_folder(Path(out))
    amounts = {
        name: _as_text(amount)
        for name, amount in (("fund", fund), ("cap", cap), ("floor", floor), ("cap_in_all", cap_in_all))
        if amount is not None
    }
    group_caps = {group: _as_text(most) for group, most in (group_cap or {}).items()}
    wishes = read_wishes(
        amounts.get("fund"),
        inputs.prices.currency,
        policy,
        limit or {},
        amounts.get("cap"),
        amounts.get("floor"),
        group_share or {},
        use_discomfort,
        every_gain,
        amounts.get("cap_in_all"),
        group_caps,
    )
    given, table, book, remarks = rounds_before(already, ledger, inputs.prices, known)
    notes = (*inputs.warnings, *remarks)
    basis = PlanBasis(known, table, use_discomfort, wishes.kept, wishes.every_gain)
    hands = workers
    if isinstance(hands, int):
        hands = InProcess(basis) if hands <= 1 else LocalProcesses(basis, hands)
    try:
        shared = share_fund(
            inputs.table,
            table,
            wishes,
            hands,
            given,
            seconds=seconds,
            steps=letters or unfinished_letters,
            notes=notes,
            catalog=known,
            reasons="each" if reasons == "few" and (letters or unfinished_letters) else reasons,
            skip_invalid=skip_invalid
            or (isinstance(applicants, ApplicantTable) and bool(applicants.rejected)),
        )
    finally:
        if isinstance(workers, int):
            hands.close()
    if out is None:
        return shared
    from deskmend.cli.output import write_folder, write_over

    asked = {
        **amounts,
        "policy": policy,
        "reasons": reasons,
        "seconds": seconds,
        "contact": contact,
        "limit": _pairs(limit),
        "group_share": _pairs(group_share),
        "group_cap": _pairs(group_caps),
        "skip_invalid": skip_invalid,
        "use_discomfort": use_discomfort,
        "every_gain": every_gain,
        "letters": letters,
        "unfinished_letters": unfinished_letters,
    }
    written = written_round(
        shared,
        DecisionInputs(
            applicants=inputs.table.file,
            prices=inputs.prices.path,
            catalog=known,
            options=given_options(asked),
            today=today,
            already="" if already is None else str(already),
            columns="" if columns is None else str(columns),
            ledger="" if ledger is None else str(ledger),
            sender="" if sender is None else str(sender),
            price_file="" if prices is None else prices.path,
            catalog_folder="" if catalog is None else str(known.folder),
        ),
        book,
        unfinished_letters or (letters and not shared.ended_early),
        contact,
        told_by,
    )
    write_folder(Path(out), written.files)
    if book is not None:
        write_over(Path(book.path), written.ledger, book.digest)
    return shared


def _pairs(named: Mapping[str, object] | None) -> list[str]:
    return [f"{name}={value}" for name, value in (named or {}).items()]


def check_allocation(folder: str | Path, ledger: str | Path | None = None) -> None:
    """Confirm a folder that `allocate` wrote, or refute it.

    Parameters
    ----------
    folder : str or Path
        The folder.
    ledger : str or Path, optional
        The ledger that has to hold its round.

    Raises
    ------
    deskmend.errors.InputFaults
        Every file that is changed, missing or strange, and every figure that does not add up.
    """
    from deskmend.intake.ledger import load_ledger
    from deskmend.report.decision import folder_faults, ledger_faults

    found, decision = folder_faults(folder)
    if ledger is not None:
        found += ledger_faults(folder, decision, load_ledger(ledger))
    if found:
        raise InputFaults(found)


def undo_round(ledger: str | Path, today: date | None = None) -> int:
    """Take the last round of a ledger back, which adds one entry to it.

    Parameters
    ----------
    ledger : str or Path
        The ledger.
    today : date, optional
        Day of the entry.

    Returns
    -------
    int
        Number of the round.

    Raises
    ------
    deskmend.errors.InputFaults
        No round counts, or entries since then speak of what it gave.
    """
    from deskmend.cli.output import write_over
    from deskmend.grants.rounds import taken_back
    from deskmend.intake.ledger import ledger_text, load_ledger

    before = load_ledger(ledger)
    after, last = taken_back(before, today)
    if last is None or last.round is None:
        raise InputFaults([option_fault("ledger", str(ledger), "a ledger with a round that counts")])
    write_over(Path(ledger), ledger_text(after), before.digest)
    return last.round


def add_entries(ledger: str | Path, entries: str | Path, catalog: Catalog | None = None) -> None:
    """Add to a ledger what happened between two rounds: things that came back, people who left.

    Parameters
    ----------
    ledger : str or Path
        The ledger.
    entries : str or Path
        Table with a row for each thing that happened.
    catalog : Catalog, optional
        From `load_catalog`; the shipped one if left out.

    Raises
    ------
    deskmend.errors.InputFaults
        Every fault of the table, and what does not fit the ledger; nothing is written then.
    """
    from deskmend.cli.output import write_over
    from deskmend.intake.ledger import ledger_text, load_entries, load_ledger

    before = load_ledger(ledger)
    after = load_entries(entries, before, load_catalog() if catalog is None else catalog)
    write_over(Path(ledger), ledger_text(after), before.digest)


def strike_out(ledger: str | Path, person: str) -> None:
    """Strike a person out of a ledger: their id is replaced everywhere, and all sums stay.

    Parameters
    ----------
    ledger : str or Path
        The ledger.
    person : str
        The id.

    Raises
    ------
    deskmend.errors.InputFaults
        Nobody in the ledger has that id.
    """
    from deskmend.cli.output import write_over
    from deskmend.intake.ledger import ledger_text, load_ledger, struck_out

    before = load_ledger(ledger)
    write_over(Path(ledger), ledger_text(struck_out(before, person)), before.digest)


def _as_text(amount: Amount) -> str:
    if isinstance(amount, bool) or not isinstance(amount, str | int | Decimal):
        raise TypeError(
            f'money is a text as "40.00", a whole number or a Decimal, not {type(amount).__name__}'
        )
    return f"{amount:f}" if isinstance(amount, Decimal) else str(amount)
