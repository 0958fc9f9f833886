"""The server of the local page: binds, hands the token over in a file of one's own, and ends tidily."""

from __future__ import annotations

import html
import os
import socket
import tempfile
import webbrowser
from collections.abc import Callable
from pathlib import Path

from deskmend.errors import InputFaults, option_fault
from deskmend.local_page.engine import Engine, Manner
from deskmend.local_page.folder import CaseFolder
from deskmend.local_page.handling import LocalPage
from deskmend.local_page.routes import local_page
from deskmend.local_page.safety import Keys

__all__ = ["serve"]

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
    engine = Engine(catalog, prices, manner)
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
