"""Addresses of the casebook on the local page: who stands in it, and what is written into it.

Reading is GET. What is written goes through `Casebook` alone, in one transaction, and only where the person
is as the screen showed.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from itertools import count
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from deskmend.casebook.learning import fix_counts, learned_from, shared_counts
from deskmend.casebook.rechecking import paid_together, steps_done
from deskmend.casebook.store import Casebook, Erased, PersonBook, StepState, open_casebook
from deskmend.casebook.visits import LONGEST_NOTE, Entries
from deskmend.errors import InputFaults
from deskmend.language import tr
from deskmend.local_page.books import book_view, field_words, person_version, person_view
from deskmend.local_page.folder import ChangedMeanwhile, NotInFolder
from deskmend.local_page.handling import (
    LocalPage,
    Unfit,
    begun,
    handled,
    json_sent,
    known_inquiry,
    made_screen,
    names_sent,
    text_sent,
    waited,
)
from deskmend.local_page.work import fault_view
from deskmend.report.casebook import counts_csv, erased_text, overlay_text
from deskmend.report.html.blocks import html_of
from deskmend.risk.severity import REGIONS

__all__ = ["book_routes"]


def book_routes(page: LocalPage) -> list[Route]:
    """Every address of the casebook."""
    return [
        Route("/casebook/{book}", handled(page, _book), methods=["GET"]),
        Route("/casebook/{book}/{key}", handled(page, _person), methods=["GET"]),
        Route("/book/ask", handled(page, _ask), methods=["POST"]),
        Route("/book/visit", handled(page, _visit), methods=["POST"]),
        Route("/book/drawn", handled(page, _drawn), methods=["POST"]),
        Route("/book/next", handled(page, _next), methods=["POST"]),
        Route("/book/done", handled(page, _done), methods=["POST"]),
        Route("/book/felt", handled(page, _felt), methods=["POST"]),
        Route("/book/learn", handled(page, _learn), methods=["POST"]),
        Route("/book/share", handled(page, _share), methods=["POST"]),
        Route("/book/erase", handled(page, _erase), methods=["POST"]),
    ]


# --- screens --------------------------------------------------------------------------------------------


async def _book(page: LocalPage, request: Request) -> Response:
    name = request.path_params["book"]
    path = page.folder.book(name)

    def read() -> dict[str, Any]:
        if not path.exists():
            return book_view((), page.catalog)
        with open_casebook(path) as book:
            return book_view(book.persons(), page.catalog)

    values: dict[str, Any] = {"faults": []}
    try:
        values |= await waited(read)
    except InputFaults as found:
        values["faults"] = [str(one) for one in found.faults]
    return made_screen(
        page,
        "book_screen.html",
        "book.js",
        {"book": name},
        title=tr("Casebook"),
        name="",
        book=name,
        cases=_case_names(page),
        **values,
    )


async def _person(page: LocalPage, request: Request) -> Response:
    name, key = request.path_params["book"], request.path_params["key"]
    path = page.folder.book(name)

    def read() -> tuple[str, dict[str, Any]]:
        with _opened(path) as book:
            person = book.person(key)
            return person_version(person), person_view(person, page.catalog)

    try:
        version, values = await waited(read)
    except InputFaults as found:
        raise NotInFolder(key) from found
    return made_screen(
        page,
        "person_screen.html",
        "person.js",
        {"book": name, "key": values["person"].key, "version": version},
        title=values["person"].key,
        name="",
        book=name,
        cases=_case_names(page),
        **values,
    )


def _case_names(page: LocalPage) -> list[str]:
    return [one.name for one in page.folder.cases()]


def _opened(path: Path) -> Casebook:
    if not path.exists():
        raise NotInFolder(path.name)
    return open_casebook(path)


# --- visits and rechecks, worked out by the engine --------------------------------------------------------


async def _ask(page: LocalPage, request: Request) -> Response:
    """Have a visit or a recheck worked out."""
    told = await json_sent(request)
    what = told.get("what")
    if what not in ("visit", "recheck"):
        raise Unfit
    path, key, version = page.folder.book(text_sent(told, "book")), text_sent(told, "key"), _version(told)
    data, case_version = page.folder.read(text_sent(told, "case"))
    asked: dict[str, Any] = {
        "file": str(page.folder.case(text_sent(told, "case")).path),
        "data": data,
        "key": key,
        "day": text_sent(told, "day"),
        "budget": text_sent(told, "budget"),
        "note": text_sent(told, "note", LONGEST_NOTE),
        "measured": told.get("measured") is True,
    }
    if what == "recheck":

        def read() -> PersonBook:
            with _opened(path) as book:
                return _as_shown(book.person(key), version)

        asked["person"] = await waited(read)
    return begun(page.engine.ask(what, asked), case_version)


def _version(told: Mapping[str, Any]) -> str:
    """Which state of the person the screen showed; empty for a person that is to be new."""
    return text_sent(told, "version")


def _as_shown(person: PersonBook, version: str) -> PersonBook:
    """The person, where the screen showed all that is written now; raises `ChangedMeanwhile`."""
    if person_version(person) != version:
        raise ChangedMeanwhile(person.key)
    return person


def _held(page: LocalPage, told: Mapping[str, Any], *what: str) -> dict[str, Any]:
    """What the engine worked out and holds ready."""
    asked = known_inquiry(page, text_sent(told, "number"))
    if asked.what not in what or asked.state != "done":
        raise Unfit
    held: dict[str, Any] = asked.answer["held"]
    return held


async def _visit(page: LocalPage, request: Request) -> Response:
    """Write a visit that was worked out; the casebook is made where there is none."""
    told = await json_sent(request)
    path, version = page.folder.book(text_sent(told, "book")), _version(told)
    held = _held(page, told, "visit", "recheck")
    key = held["key"]

    def write(book: Casebook) -> None:
        known = key.lower() in (one.lower() for one in book.keys())
        if version:
            _as_shown(book.person(key), version)
        elif known:
            entries = Entries()
            entries.fault(
                "KEY", key, tr("a key that nobody here has"), tr("open the person to write a visit")
            )
            entries.refuse()
        book.add_visit(key, held["visit"], held["felt"], held["note"])

    return await _written(page, path, key, write, create=not version)


async def _drawn(page: LocalPage, request: Request) -> Response:
    """Write the page of a recheck into the folder, and keep where it stands."""
    told = await json_sent(request)
    held = _held(page, told, "recheck")
    return await _made_of_recheck(page, told, held, "recheck", f"{held['key']}_recheck.html", held["drawn"])


async def _next(page: LocalPage, request: Request) -> Response:
    """Write the case that the plan from there is of, beside the case that was looked at, under a new name."""
    told = await json_sent(request)
    held = _held(page, told, "recheck")
    beside = Path(held["visit"].case_file).parent.relative_to(page.folder.path)
    names = (
        (beside / f"{held['key']}_next{'' if number == 1 else number}.yaml").as_posix() for number in count(1)
    )
    name = next(name for name in names if not os.path.lexists(page.folder.path / name))
    return await _made_of_recheck(page, told, held, "case", name, held["next"])


async def _made_of_recheck(
    page: LocalPage, told: Mapping[str, Any], held: Mapping[str, Any], what: str, name: str, text: str
) -> Response:
    """Write a file that was made of a recheck, and keep where it stands."""
    path, version = page.folder.book(text_sent(told, "book")), _version(told)

    def write(book: Casebook) -> None:
        person = _as_shown(book.person(held["key"]), version)
        page.folder.add(name, text, replace=what == "recheck")
        book.add_export(held["visit"].day, str(page.folder.path / name), what, [person.key])

    return await _written(page, path, held["key"], write, file=name)


# --- what was done, how it felt ----------------------------------------------------------------------------


async def _done(page: LocalPage, request: Request) -> Response:
    told = await json_sent(request)
    path, key, version = page.folder.book(text_sent(told, "book")), text_sent(told, "key"), _version(told)
    names, given_up = names_sent(told, "fixes"), told.get("given_up") is True
    day, paid, why, note = (text_sent(told, one, LONGEST_NOTE + 1) for one in ("day", "paid", "why", "note"))

    def write(book: Casebook) -> None:
        person = _as_shown(book.person(key), version)
        entries = Entries()
        on = entries.day(day or None)
        words, noted = entries.words(why, "--why"), entries.words(note, "--note")
        if not names:
            entries.fault("FIX", None, tr("one step or more"))
        state: StepState = "given_up" if given_up else "kept"
        done = steps_done(person, names, page.catalog, on, state, words, entries)
        if paid:
            amount = entries.paid(paid, person.visits[-1].currency)
            done = paid_together(done, amount) if done else []
        entries.refuse()
        book.add_done(key, done, noted)

    return await _written(page, path, key, write)


async def _felt(page: LocalPage, request: Request) -> Response:
    told = await json_sent(request)
    path, key, version = page.folder.book(text_sent(told, "book")), text_sent(told, "key"), _version(told)
    ratings = told.get("ratings")
    if not isinstance(ratings, dict) or not all(isinstance(one, str) for one in ratings.values()):
        raise Unfit
    day, note = (text_sent(told, one, LONGEST_NOTE + 1) for one in ("day", "note"))

    def write(book: Casebook) -> None:
        _as_shown(book.person(key), version)
        entries = Entries()
        on, noted = entries.day(day or None), entries.words(note, "--note")
        felt = entries.ratings([f"{region}={ratings[region]}" for region in REGIONS if region in ratings], on)
        if not felt and not entries.faults:
            entries.fault(tr("How it felt"), None, tr("one rating or more"))
        entries.refuse()
        book.add_felt(key, felt, noted)

    return await _written(page, path, key, write)


# --- learning, sharing, erasing --------------------------------------------------------------------------


async def _learn(page: LocalPage, request: Request) -> Response:
    """Write what habits were kept, as a file that plans read; refused where nothing may be told."""

    def told(persons: Sequence[PersonBook]) -> _Export | None:
        learned = [one for one in learned_from(fix_counts(persons), page.catalog) if one.from_catalog]
        counted = {one.count.fix for one in learned}
        keys = [one.key for one in persons if any(step.fix in counted for step in one.done)]
        return (overlay_text(learned), keys) if learned else None

    return await _exported(page, request, "learn", ".yaml", told)


async def _share(page: LocalPage, request: Request) -> Response:
    """Write counts that may be shared; refused where there are too few persons to tell anything."""

    def told(persons: Sequence[PersonBook]) -> _Export | None:
        counts = shared_counts(persons)
        return None if counts.persons is None else (counts_csv(counts), [one.key for one in persons])

    return await _exported(page, request, "share", ".csv", told)


_Export = tuple[str, list[str]]
"""A text made of a casebook, and the keys of the persons who are counted in it."""


async def _exported(
    page: LocalPage,
    request: Request,
    what: str,
    ending: str,
    made: Callable[[Sequence[PersonBook]], _Export | None],
) -> Response:
    """Write a file of the folder that is made of the whole casebook, and keep where it stands."""
    told = await json_sent(request)
    path, name = page.folder.book(text_sent(told, "book")), text_sent(told, "name").strip()
    file = name if name.lower().endswith(ending) else f"{name}{ending}"

    def write(book: Casebook) -> None:
        export = made(book.persons())
        if export is None:
            raise Unfit
        text, keys = export
        page.folder.add(file, text)
        book.add_export(date.today(), str(page.folder.path / file), what, keys)

    return await _written(page, path, "", write, file=file)


async def _erase(page: LocalPage, request: Request) -> Response:
    """Take a person out, where the key was typed once more."""
    told = await json_sent(request)
    path, key, version = page.folder.book(text_sent(told, "book")), text_sent(told, "key"), _version(told)
    if text_sent(told, "again").strip() != key:
        return _faulty("KEY", text_sent(told, "again"), tr("{key}, typed once more", key=key))

    def write() -> Erased:
        with page.book_writing, _opened(path) as book:
            _as_shown(book.person(key), version)
            return book.erase(key)

    try:
        erased = await waited(write)
    except InputFaults as found:
        return _refusal(found)
    return JSONResponse({"html": html_of(erased_text, path.name, erased)})


def _faulty(where: str, read: str, allowed: str) -> Response:
    entries = Entries()
    entries.fault(where, read, allowed)
    return _refusal(InputFaults(entries.faults))


def _refusal(found: InputFaults) -> Response:
    """What cannot be taken, field by field."""
    fields = field_words()
    views = [fault_view(one) for one in found.faults]
    return JSONResponse(
        {"faults": [view | {"where": fields.get(view["where"], view["where"])} for view in views]}
    )


async def _written(
    page: LocalPage,
    path: Path,
    key: str,
    write: Callable[[Casebook], None],
    *,
    create: bool = False,
    file: str = "",
) -> Response:
    """Write one thing, in turn with other windows; gives the person's version then."""

    def work() -> str:
        if not create and not path.exists():
            raise ChangedMeanwhile(path.name)
        with page.book_writing, open_casebook(path, create=create) as book:
            write(book)
            return person_version(book.person(key)) if key else ""

    try:
        return JSONResponse({"version": await waited(work), "key": key, "file": file})
    except InputFaults as found:
        return _refusal(found)
