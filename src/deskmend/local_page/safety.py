"""Who may ask the local page for what: every request is looked at here before anything else sees it.

Other pages in the same browser, other people at the same machine and other machines are strangers. A page
elsewhere cannot name this host (Host), cannot read an answer and cannot send a change: that takes the
cookie, an Origin that is this page's, and a secret that only this page was told.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable, MutableMapping
from dataclasses import dataclass, field
from typing import Any

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request, cookie_parser
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from deskmend.language import tr

__all__ = ["LOOPBACK", "PAGE_SECRET", "Guard", "Keys", "TooLarge", "bounded_body", "hosts_of", "is_loopback"]

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
