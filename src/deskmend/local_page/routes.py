"""Addresses of the local page, its few changes, and the server that binds, lets in and ends tidily.

Reading is GET and changes nothing; whatever changes something is POST and has passed `Guard`.
"""

from __future__ import annotations

import asyncio
import html
import os
import re
import socket
import tempfile
import time
import webbrowser
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

from deskmend.casebook.store import DEFAULT_FILE
from deskmend.errors import InputFaults, Unreadable, option_fault
from deskmend.intake.case_file import case_of_bytes
from deskmend.intake.catalog import shipped_folder
from deskmend.intake.typed_answers import YES, AskedBack
from deskmend.language import tr
from deskmend.local_page.answers import answer_words, case_with_answer, faults_in_short, marking, with_wishes
from deskmend.local_page.book_routes import book_routes
from deskmend.local_page.engine import EngineProcess, Manner
from deskmend.local_page.folder import FILE_NAME, CaseFolder, ChangedMeanwhile
from deskmend.local_page.handling import (
    WAY_IN,
    Guard,
    Keys,
    LocalPage,
    Unfit,
    begun,
    bounded_body,
    handled,
    hosts_of,
    json_sent,
    known_inquiry,
    made_screen,
    names_sent,
    text_sent,
    waited,
)
from deskmend.picture.camera import MOST_BYTES
from deskmend.report.forms.travelling import questions_for_browser
from deskmend.report.html.page import READERS
from deskmend.report.words import case_name

__all__ = ["local_page", "serve"]

LOOKED_AT_EVERY = 0.02
"""Seconds between two looks at whether the engine is done."""
WAITED_FOR = 0.5
"""Seconds that one request waits for the engine."""
QUESTIONS = ("strain", "plan", "beside", "page", "measure", "take", "answers")
"""What a screen may ask the engine about a case."""
MOST_FAULTS = 20
"""Most faults listed of one case."""
MOST_PICTURES = 2
"""Most pictures held at once; an older one has to be chosen again."""
EXAMPLE = "kitchen_books"
EXAMPLE_TITLE = "Bookkeeper at a kitchen table (invented)"
"""Scenario that is put into an empty folder."""


def local_page(page: LocalPage, host: str) -> Guard:
    """The whole page, guarded; `host` is the one it is bound to."""
    routes = [
        Route(WAY_IN, handled(page, _enter), methods=["GET"]),
        Route("/", handled(page, _cases), methods=["GET"]),
        Route("/strain/{case:path}", handled(page, _strain), methods=["GET"]),
        Route("/plan/{case:path}", handled(page, _plan), methods=["GET"]),
        Route("/hand/{case:path}", handled(page, _hand), methods=["GET"]),
        Route("/picture/{case:path}", handled(page, _picture), methods=["GET"]),
        Route("/pictures/{case:path}", handled(page, _upload), methods=["POST"]),
        Route("/drop", handled(page, _drop), methods=["POST"]),
        Route("/take", handled(page, _take), methods=["POST"]),
        Route("/answers/{case:path}", handled(page, _answers), methods=["GET"]),
        Route("/answer", handled(page, _answer), methods=["POST"]),
        Route("/new", handled(page, _new), methods=["GET"]),
        Route("/begin", handled(page, _begin), methods=["POST"]),
        Route("/ask", handled(page, _ask), methods=["POST"]),
        Route("/asked/{number}", handled(page, _told), methods=["GET"]),
        Route("/made/{number}", handled(page, _made), methods=["GET"]),
        Route("/stop", handled(page, _stop), methods=["POST"]),
        Route("/wishes", handled(page, _wishes), methods=["POST"]),
        Route("/keep", handled(page, _keep), methods=["POST"]),
        Route("/example", handled(page, _example), methods=["POST"]),
        *book_routes(page),
    ]
    return Guard(Starlette(routes=routes), page.keys, hosts_of(host, page.keys.port))


# --- screens -----------------------------------------------------------------------------------------


async def _enter(page: LocalPage, request: Request) -> Response:
    """Take the token for the cookie, and go on to an address without it."""
    if not page.keys.spend(request.query_params.get("token", "")):
        told = tr("This way in was used before. Open the file again that deskmend names in its window.")
        return PlainTextResponse(told + "\n", 403)
    page.opened()
    # A redirect would still count as begun by the file, and the browser keep a strict cookie back.
    answer = HTMLResponse(
        '<!DOCTYPE html><title>deskmend</title><meta http-equiv="refresh" content="0; url=/">'
    )
    answer.set_cookie(page.keys.cookie, page.keys.session, path="/", httponly=True, samesite="strict")
    return answer


async def _cases(page: LocalPage, _: Request) -> Response:
    cases = []
    for one in page.folder.cases():
        title, faults = _summary(page, one.name)
        cases.append({"name": one.name, "title": title, "faults": faults})
    return made_screen(
        page,
        "cases.html",
        "cases.js",
        {},
        title="deskmend",
        name="",
        folder=str(page.folder.path),
        cases=cases,
        books=page.folder.books(),
        first_book=DEFAULT_FILE,
    )


def _summary(page: LocalPage, name: str) -> tuple[str, list[str]]:
    """What a case is called, and what is wrong with it."""
    try:
        return case_name(case_of_bytes(page.folder.read(name)[0], name)), []
    except InputFaults as found:
        return name, [str(fault) for fault in found.faults[:MOST_FAULTS]]


async def _answers(page: LocalPage, request: Request) -> Response:
    return _case_screen(page, request, "answers", "answers_screen.html", "answering.js")


async def _strain(page: LocalPage, request: Request) -> Response:
    return _case_screen(page, request, "strain", "strain_screen.html", "strain.js")


async def _plan(page: LocalPage, request: Request) -> Response:
    return _case_screen(page, request, "plan", "plan_screen.html", "plan.js")


async def _hand(page: LocalPage, request: Request) -> Response:
    return _case_screen(page, request, "hand", "hand_screen.html", "handing.js", readers=READERS)


async def _new(page: LocalPage, _: Request) -> Response:
    """The questions, as the form that travels asks them."""
    asked = await waited(lambda: questions_for_browser(page.catalog))
    given = {"questions": asked}
    return made_screen(page, "new_screen.html", "begin.js", given, title=tr("New case"), name="")


async def _picture(page: LocalPage, request: Request) -> Response:
    name = page.folder.case(request.path_params["case"]).name
    case = case_of_bytes(page.folder.read(name)[0], name)
    return _case_screen(page, request, "picture", "picture_screen.html", "picture.js", marking(case))


def _case_screen(
    page: LocalPage,
    request: Request,
    here: str,
    template: str,
    module: str,
    more: Mapping[str, Any] | None = None,
    **values: Any,
) -> Response:
    case = page.folder.case(request.path_params["case"])
    title, _ = _summary(page, case.name)
    screens = [
        ("answers", tr("Answers")),
        ("picture", tr("Picture")),
        ("strain", tr("Strain")),
        ("plan", tr("Plan")),
        ("hand", tr("Hand over")),
    ]
    given = {"name": case.name, **(more or {})}
    return made_screen(
        page, template, module, given, title=title, name=case.name, here=here, screens=screens, **values
    )


# --- questions to the engine --------------------------------------------------------------------------


async def _ask(page: LocalPage, request: Request) -> Response:
    told = await json_sent(request)
    what = told.get("what")
    if what not in QUESTIONS:
        raise Unfit
    data, version = page.folder.read(text_sent(told, "case"))
    file = str(page.folder.case(text_sent(told, "case")).path)
    asked: dict[str, Any] = {"file": file, "data": data, "name": text_sent(told, "case")}
    if what == "beside":
        asked |= {side: _spec(told.get(side)) for side in ("first", "second")}
    elif what == "page":
        if told.get("reader") not in READERS:
            raise Unfit
        asked["reader"] = told["reader"]
    elif what in ("measure", "take"):
        asked |= _marked(page, told)
    elif what == "plan":
        asked |= _spec(told)
    else:
        asked |= {"must": None, "never": None}
    return begun(page.engine.ask(what, asked), version)


def _spec(told: Any) -> dict[str, Any]:
    """The wishes and the money that a plan is asked for."""
    if not isinstance(told, dict):
        raise Unfit
    cost = told.get("cost")
    if cost is not None and (isinstance(cost, bool) or not isinstance(cost, int) or not 0 <= cost < 10**12):
        raise Unfit
    must, never = (None if told.get(key) is None else names_sent(told, key) for key in ("must", "never"))
    return {"must": must, "never": never, "cost": cost}


async def _told(page: LocalPage, request: Request) -> Response:
    """How far a question is; waits a moment, so that an answer is heard of at once."""
    asked = known_inquiry(page, request.path_params["number"])
    waited = 0.0
    asked.looked_at = time.monotonic()
    heard = "early" in request.query_params
    while not (asked.ended.is_set() or waited >= WAITED_FOR or (asked.early is not None and not heard)):
        await asyncio.sleep(LOOKED_AT_EVERY)
        waited += LOOKED_AT_EVERY
    # the answer is there before the state says so, never after
    state, answer = asked.state, None
    if state == "done":
        # what is held is written where the screen says so, and never sent
        answer = {key: one for key, one in asked.answer.items() if key != "held"} | {"number": asked.number}
    elif state not in ("waiting", "working"):
        answer = asked.answer
    return JSONResponse(
        {
            "state": state,
            "answer": answer,
            "early": None if heard else asked.early,
            "seconds": asked.seconds,
            "done": asked.done,
            "whole": asked.whole,
        }
    )


async def _stop(page: LocalPage, request: Request) -> Response:
    told = await json_sent(request)
    asked = known_inquiry(page, text_sent(told, "number"))
    if asked.state == "waiting" or not told.get("waiting_only"):
        page.engine.stop(asked)
    return JSONResponse({})


async def _made(page: LocalPage, request: Request) -> Response:
    """The file that was made, as a page of its own with the policy that stands in it."""
    html = _page_made(page, request.path_params["number"])
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', html)
    if policy is None:
        raise Unfit
    own = f"{policy[1].replace('&#39;', chr(39))}; frame-ancestors 'none'"
    return HTMLResponse(html, headers={"content-security-policy": own})


def _page_made(page: LocalPage, number: str) -> str:
    asked = known_inquiry(page, number)
    if asked.what != "page" or asked.state != "done":
        raise Unfit
    return str(asked.answer["held"])


# --- pictures -----------------------------------------------------------------------------------------


async def _upload(page: LocalPage, request: Request) -> Response:
    """Take a picture into memory, and have it looked at."""
    name = page.folder.case(request.path_params["case"]).name
    version = page.folder.read(name)[1]
    picture = await bounded_body(request, MOST_BYTES)
    asked = page.engine.ask("picture", {"picture": picture})
    if asked is not None:
        page.pictures[asked.number] = picture
        while len(page.pictures) > MOST_PICTURES:
            page.pictures.popitem(last=False)
    return begun(asked, version)


def _marked(page: LocalPage, told: Mapping[str, Any]) -> dict[str, Any]:
    picture, marks, place = (
        page.pictures.get(text_sent(told, "picture")),
        told.get("marks"),
        told.get("place"),
    )
    if picture is None or not isinstance(marks, dict) or not (place is None or isinstance(place, str)):
        raise Unfit
    return {"picture": picture, "marks": marks, "place": place}


async def _drop(page: LocalPage, request: Request) -> Response:
    page.pictures.pop(text_sent(await json_sent(request), "picture"), None)
    return JSONResponse({})


async def _take(page: LocalPage, request: Request) -> Response:
    """Write the case with the measures that were worked out for it, and drop the picture."""
    told = await json_sent(request)
    asked = known_inquiry(page, text_sent(told, "number"))
    if asked.what != "take" or asked.state != "done":
        raise Unfit
    name = text_sent(told, "case")
    if str(page.folder.case(name).path) != asked.given["file"]:
        raise Unfit
    version = page.folder.change(name, asked.answer["held"], text_sent(told, "version"))
    page.pictures.pop(text_sent(told, "picture"), None)
    return JSONResponse({"version": version})


# --- changes ------------------------------------------------------------------------------------------


async def _wishes(page: LocalPage, request: Request) -> Response:
    """Write other wishes into a case."""
    told = await json_sent(request)
    name = text_sent(told, "case")
    data, version = page.folder.read(name)
    if version != text_sent(told, "version"):
        raise ChangedMeanwhile(name)
    text = with_wishes(data, name, names_sent(told, "must"), names_sent(told, "never"))
    return JSONResponse({"version": page.folder.change(name, text, version)})


async def _answer(page: LocalPage, request: Request) -> Response:
    """Change one answer of a case; what is no answer is told with what may be meant."""
    told = await json_sent(request)
    name, sure = text_sent(told, "case"), told.get("sure") is True
    data, version = page.folder.read(name)
    if version != text_sent(told, "version"):
        raise ChangedMeanwhile(name)
    where, key, typed = (text_sent(told, one) for one in ("where", "key", "text"))
    if told.get("meant") and typed.strip().lower() in YES:
        typed, sure = text_sent(told, "meant"), True
    try:
        text = case_with_answer(data, name, page.catalog, where, key, typed, sure)
    except Unreadable as no:
        meant = no.meant if isinstance(no, AskedBack) else ""
        words = answer_words(page.catalog, key, meant) if meant else ""
        return JSONResponse(
            {"note": no.note, "allowed": no.allowed, "hint": no.hint, "meant": meant, "words": words}
        )
    except InputFaults as found:
        note = "; ".join(faults_in_short(found)[:3])
        return JSONResponse({"note": note, "allowed": "", "hint": "", "meant": ""})
    return JSONResponse({"version": page.folder.change(name, text, version)})


async def _begin(page: LocalPage, request: Request) -> Response:
    """Write a new case from its answers; never over a file that is there."""
    told = await json_sent(request)
    name, text = text_sent(told, "name").strip(), told.get("text")
    if not isinstance(text, str):
        raise Unfit
    if not FILE_NAME.fullmatch(name):
        unfit = tr(
            "Give the file a name of letters, digits, blanks, dots and lines, with a letter or digit first."
        )
        return PlainTextResponse(unfit + "\n", 400)
    name = name if name.lower().endswith((".yaml", ".yml")) else f"{name}.yaml"
    case_of_bytes(text.encode("utf-8"), name)
    page.folder.add(name, text)
    return JSONResponse({"case": name})


async def _keep(page: LocalPage, request: Request) -> Response:
    """Write the file that was made into the folder; one that was made before gives way."""
    number = text_sent(await json_sent(request), "number")
    html = _page_made(page, number)
    asked = known_inquiry(page, number)
    case = Path(asked.given["file"]).relative_to(page.folder.path)
    name = case.with_name(f"{case.stem}_{asked.given['reader']}.html").as_posix()
    page.folder.add(name, html, replace=True)
    return JSONResponse({"file": name})


async def _example(page: LocalPage, request: Request) -> Response:
    await json_sent(request)
    scenario = shipped_folder("scenarios") / EXAMPLE
    files = {one.name: one.read_bytes() for one in scenario.iterdir()}
    files["case.yaml"] = files["case.yaml"].replace(EXAMPLE_TITLE.encode(), tr(EXAMPLE_TITLE).encode(), 1)
    page.folder.add_folder("example", files)
    return JSONResponse({"case": "example/case.yaml"})


USUAL_PORT = 8737
"""Port that is tried first where none is told; else any free one."""


class WayIn:
    """A file that only its owner can read, and that leads the browser in; each use needs the next token."""

    def __init__(self, keys: Keys, host: str) -> None:
        self._keys = keys
        shown = f"[{host}]" if ":" in host else host
        self._address = f"http://{shown}:{keys.port}/enter?token="
        self._folder = tempfile.TemporaryDirectory(prefix="deskmend-", ignore_cleanup_errors=True)
        self.file = Path(self._folder.name) / "open.html"
        self.write()

    def write(self) -> None:
        """Write the file with the token that counts now."""
        address = html.escape(f"{self._address}{self._keys.token}")
        text = (
            '<!DOCTYPE html><meta charset="utf-8"><title>deskmend</title>'
            '<meta name="referrer" content="no-referrer">'
            f'<meta http-equiv="refresh" content="0; url={address}"><p><a href="{address}">deskmend</a></p>\n'
        )
        beside = self.file.with_suffix(".part")
        number = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with open(number, "w", encoding="utf-8") as stream:
            stream.write(text)
        os.replace(beside, self.file)

    def close(self) -> None:
        """Take the file away."""
        self._folder.cleanup()


def bound(host: str, port: int | None) -> socket.socket:
    """A socket that listens; `InputFaults` where the host or the port is not to be had."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    for number in (USUAL_PORT, 0) if port is None else (port,):
        opened = socket.socket(family, socket.SOCK_STREAM)
        if os.name == "posix":
            opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            opened.bind((host, number))
            opened.listen(64)
        except OSError as error:
            opened.close()
            if port is not None or number == 0:
                note = f"cannot be used: {error.strerror or error}"
                allowed = "a host and a port that are free on this machine"
                raise InputFaults([option_fault("--port", f"{host}:{number}", allowed, note=note)]) from None
            continue
        return opened
    raise AssertionError("a socket is bound or refused")


def serve(
    folder: Path,
    host: str,
    port: int | None,
    browser: bool,
    catalog: str | None,
    prices: str | None,
    manner: Manner,
    told: Callable[[str, Path], None],
) -> None:
    """Serve the page of a folder until it is stopped.

    `told` is called with its address, and with the file that opens it.
    """
    import uvicorn

    cases = CaseFolder(folder)
    cases.clear_unfinished()
    listening = bound(host, port)
    keys = Keys(listening.getsockname()[1])
    engine = EngineProcess(catalog, prices, manner)
    way_in = WayIn(keys, "127.0.0.1" if host in ("0.0.0.0", "localhost") else "::1" if host == "::" else host)
    try:
        engine.ask("warm", {})
        app = local_page(
            LocalPage(cases, engine, keys, manner, catalog_folder=catalog, opened=way_in.write), host
        )
        told(f"http://{host}:{keys.port}/", way_in.file)
        if browser:
            webbrowser.open(way_in.file.as_uri())
        config = uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,
            server_header=False,
            lifespan="off",
            ws="none",
            timeout_graceful_shutdown=2,
        )
        uvicorn.Server(config).run(sockets=[listening])
    finally:
        engine.close()
        way_in.close()
        listening.close()
