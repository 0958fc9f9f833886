"""Who may ask the local page for what, and what its addresses share: folder, engine, refusals.

Other pages in the same browser, other people at the same machine and other machines are strangers. A page
elsewhere cannot name this host (Host), cannot read an answer and cannot send a change: that takes the
cookie, an Origin that is this page's, and a secret that only this page was told.
"""

from __future__ import annotations

import asyncio
import json
import secrets
import threading
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Iterable, Mapping, MutableMapping
from contextvars import copy_context
from dataclasses import dataclass, field
from functools import cached_property, wraps
from typing import Any, TypeVar

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request, cookie_parser
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from deskmend.errors import InputFaults
from deskmend.intake.catalog import Catalog, load_catalog
from deskmend.language import measuring, reading, tr
from deskmend.local_page.engine import EngineProcess, Inquiry, Manner
from deskmend.local_page.folder import CaseFolder, ChangedMeanwhile, NotInFolder
from deskmend.local_page.rendering import screen

__all__ = [
    "LOOPBACK",
    "PAGE_SECRET",
    "Guard",
    "Keys",
    "LocalPage",
    "TooLarge",
    "Unfit",
    "begun",
    "bounded_body",
    "handled",
    "hosts_of",
    "is_loopback",
    "json_sent",
    "known_inquiry",
    "made_screen",
    "names_sent",
    "text_sent",
    "waited",
]

LOOPBACK = ("127.0.0.1", "localhost", "::1")
"""Names of this machine that nobody else can reach."""
PAGE_SECRET = "x-deskmend-page"
"""Header that carries the page's secret with each change."""
WAY_IN = "/enter"
"""The one address that is opened without the cookie."""
_SECRET_BYTES = 32
_READS = ("GET", "HEAD")

_ALWAYS = {
    "cache-control": "no-store",
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}
"""Headers of every answer."""
NOTHING_ALLOWED = "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
"""Content policy of every answer that has none of its own."""


def is_loopback(host: str) -> bool:
    """Whether a server bound to this host is reached from this machine alone."""
    return host in LOOPBACK


def hosts_of(host: str, port: int) -> frozenset[str]:
    """What a request may name as its Host: this machine, and the host that the server was told to bind to."""
    return frozenset(f"[{name}]:{port}" if ":" in name else f"{name}:{port}" for name in (*LOOPBACK, host))


@dataclass
class Keys:
    """The secrets of one run of the server.

    - `token`: opens the page once, and is another one after that.
    - `session`: the cookie's.
    - `page`: told to the page itself, sent back with each change.
    """

    port: int
    token: str = field(default_factory=lambda: secrets.token_urlsafe(_SECRET_BYTES))
    session: str = field(default_factory=lambda: secrets.token_urlsafe(_SECRET_BYTES))
    page: str = field(default_factory=lambda: secrets.token_urlsafe(_SECRET_BYTES))

    @property
    def cookie(self) -> str:
        """Name of the cookie: cookies do not tell ports apart, so that two pages need two names."""
        return f"deskmend_{self.port}"

    def spend(self, token: str) -> bool:
        """Whether this is the token; it is spent then, and the next one takes its place."""
        if not secrets.compare_digest(token.encode(), self.token.encode()):
            return False
        self.token = secrets.token_urlsafe(_SECRET_BYTES)
        return True

    def knows(self, cookies: MutableMapping[str, str] | dict[str, str]) -> bool:
        """Whether the cookie is there and right."""
        return secrets.compare_digest(cookies.get(self.cookie, "").encode(), self.session.encode())


class Guard:
    """Refuses what does not come from the page itself, and puts the headers of safety on every answer."""

    def __init__(self, app: ASGIApp, keys: Keys, hosts: Iterable[str]) -> None:
        self._app, self._keys, self._hosts = app, keys, frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Look at one request and hand it on, or refuse it."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _ALWAYS.items():
                    headers[name] = value
                headers.setdefault("content-security-policy", NOTHING_ALLOWED)
            await send(message)

        refusal = self._refusal(scope)
        await (self._app if refusal is None else refusal)(scope, receive, safely)

    def _refusal(self, scope: Scope) -> Response | None:
        """Give the answer to whoever may not ask this; None where the request is in order."""
        headers, method = Headers(scope=scope), scope["method"]
        named = headers.getlist("host")
        if len(named) != 1 or named[0].lower() not in self._hosts:
            return _refused(tr("This address is not the local page's."), 403)
        if method not in (*_READS, "POST"):
            return _refused(tr("Not allowed here."), 405)
        way_in = scope["path"] == WAY_IN
        site = headers.get("sec-fetch-site")
        if method in _READS and not way_in and site not in (None, "none", "same-origin"):
            return _refused(tr("Another page may not read this."), 403)
        if not way_in and not self._keys.knows(_cookies(headers)):
            return _refused(
                tr(
                    "Open the page from the file that deskmend names in its window. This address alone opens "
                    "nothing."
                ),
                401,
            )
        if method == "POST":
            return self._change_refused(headers, named[0].lower(), site)
        return None

    def _change_refused(self, headers: Headers, host: str, site: str | None) -> Response | None:
        told = headers.get(PAGE_SECRET, "")
        if headers.getlist("origin") != [f"http://{host}"] or site not in (None, "same-origin"):
            return _refused(tr("Another page may not change anything here."), 403)
        if not secrets.compare_digest(told.encode(), self._keys.page.encode()):
            return _refused(tr("This page is of an earlier start: open it anew."), 403)
        return None


def _cookies(headers: Headers) -> dict[str, str]:
    return cookie_parser(headers.get("cookie", ""))


def _refused(text: str, status: int) -> Response:
    return PlainTextResponse(f"{text}\n", status)


class TooLarge(Exception):
    """More was sent than is read."""


async def bounded_body(request: Request, most: int) -> bytes:
    """What was sent, held in memory alone; raises `TooLarge` as soon as it is over so many bytes."""
    told: Any = request.headers.get("content-length", "0")
    if not str(told).isdecimal() or int(told) > most:
        raise TooLarge
    parts, size = [], 0
    async for part in request.stream():
        size += len(part)
        if size > most:
            raise TooLarge
        parts.append(part)
    return b"".join(parts)


MOST_TOLD = 200_000
"""Largest change or question, but for pictures [bytes]."""
MOST_NAMES = 100
"""Most wishes of one kind, as in a case."""

_Found = TypeVar("_Found")
Handler = Callable[["LocalPage", Request], Awaitable[Response]]


@dataclass
class LocalPage:
    """What the addresses share: the folder, the engine, the secrets and the reader."""

    folder: CaseFolder
    engine: EngineProcess
    keys: Keys
    manner: Manner
    pictures: OrderedDict[str, bytes] = field(default_factory=OrderedDict)
    """Pictures that are being marked, in memory alone."""
    catalog_folder: str | None = None
    opened: Callable[[], None] = lambda: None
    """Called when the token has been spent, so that the file that opens the page gets the next one."""
    book_writing: threading.Lock = field(default_factory=threading.Lock)
    """Held while a casebook is written."""

    @cached_property
    def catalog(self) -> Catalog:
        """The fixes to choose from."""
        return load_catalog(self.catalog_folder)


class Unfit(Exception):
    """What was sent is none of what may be sent."""


def handled(page: LocalPage, handler: Handler) -> Callable[[Request], Awaitable[Response]]:
    """Answer in the reader's language, and turn every refusal into a status."""

    @wraps(handler)
    async def answer(request: Request) -> Response:
        with reading(page.manner.language), measuring(page.manner.unit):
            try:
                return await handler(page, request)
            except NotInFolder:
                return PlainTextResponse(tr("There is no such thing in this folder.") + "\n", 404)
            except Unfit:
                return PlainTextResponse(tr("This cannot be understood.") + "\n", 400)
            except TooLarge:
                return PlainTextResponse(tr("That is too large.") + "\n", 413)
            except ChangedMeanwhile:
                told = tr(
                    "Somebody changed this meanwhile, in another window or program. Nothing was written."
                )
                return PlainTextResponse(told + "\n", 409)
            except FileExistsError:
                told = tr("A file of that name is there already. Nothing was written.")
                return PlainTextResponse(told + "\n", 409)
            except InputFaults as found:
                return PlainTextResponse(f"{found}\n", 422)
            except OSError as error:
                told = tr("The folder cannot be read or written: {reason}.", reason=error.strerror or "?")
                return PlainTextResponse(told + "\n", 500)

    return answer


def made_screen(
    page: LocalPage, template: str, module: str, given: Mapping[str, Any], **values: Any
) -> Response:
    """A whole screen; `given` is what its module is told."""
    html, policy = screen(template, module, {**given, "secret": page.keys.page}, **values)
    return HTMLResponse(html, headers={"content-security-policy": policy})


def begun(asked: Inquiry | None, version: str) -> Response:
    """The number by which a question is asked after; refused where too much waits."""
    if asked is None:
        return PlainTextResponse(tr("Too much is waiting. Try again in a moment.") + "\n", 429)
    return JSONResponse({"number": asked.number, "version": version})


def known_inquiry(page: LocalPage, number: str) -> Inquiry:
    """A question by its number; raises `Unfit`."""
    asked = page.engine.find(number)
    if asked is None:
        raise Unfit
    return asked


async def json_sent(request: Request) -> dict[str, Any]:
    """What was sent, as a group of keys; raises `Unfit`."""
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        raise Unfit
    try:
        told = json.loads(await bounded_body(request, MOST_TOLD))
    except (ValueError, RecursionError):
        raise Unfit from None
    if not isinstance(told, dict):
        raise Unfit
    return told


def text_sent(told: Mapping[str, Any], key: str, most: int = 500) -> str:
    """A text of at most so many characters."""
    text = told.get(key)
    if not isinstance(text, str) or len(text) > most:
        raise Unfit
    return text


def names_sent(told: Mapping[str, Any], key: str) -> list[str]:
    """Names of fixes; whether they are any is looked at where they are read."""
    names = told.get(key)
    if not isinstance(names, list) or len(names) > MOST_NAMES:
        raise Unfit
    if not all(isinstance(name, str) and len(name) <= 200 for name in names):
        raise Unfit
    return names


async def waited(work: Callable[[], _Found]) -> _Found:
    """What takes a while, or waits for another writer, beside the other requests."""
    return await asyncio.to_thread(copy_context().run, work)
