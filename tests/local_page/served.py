"""The local page for tests: its addresses answered without a network, the engine in the same process."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, cast

from starlette.testclient import TestClient
from tests.planning.cases import plain

from deskmend.errors import InputFaults
from deskmend.local_page.engine import EngineProcess, Inquiry, Manner
from deskmend.local_page.folder import CaseFolder
from deskmend.local_page.handling import PAGE_SECRET, Keys, LocalPage
from deskmend.local_page.routes import local_page
from deskmend.local_page.work import KeptCases, NotPossible

PORT = 8737
HERE = f"http://127.0.0.1:{PORT}"


def case_text(**changes: Any) -> str:
    """A small case as a file's text: JSON is YAML too."""
    return json.dumps(plain(**changes), indent=1)


class AtOnce:
    """An engine that answers before it is asked how far it is, in this process."""

    def __init__(self, catalog: str | None = None) -> None:
        self.cases = KeptCases(catalog, None)
        self.known: dict[str, Inquiry] = {}

    def ask(self, what: str, given: Mapping[str, Any]) -> Inquiry:
        asked = Inquiry(what, given)
        self.known[asked.number] = asked
        try:
            asked.end("done", self.cases.answer(what, given))
        except NotPossible as told:
            asked.end("no_plan", told.answer)
        except InputFaults as found:
            asked.end("faults", self.cases.faults(found))
        return asked

    def find(self, number: str) -> Inquiry | None:
        return self.known.get(number)

    def stop(self, asked: Inquiry) -> None:
        asked.end("stopped")


class Served:
    """A page of a folder, and a client that has come in by the token unless told otherwise."""

    def __init__(
        self, folder: Path, language: str = "en", host: str = "127.0.0.1", catalog: str | None = None
    ) -> None:
        self.folder, self.catalog = folder, catalog
        self.keys = Keys(PORT)
        self.engine = AtOnce(catalog)
        manner, engine = Manner(language, "mm"), cast(EngineProcess, self.engine)
        page = LocalPage(CaseFolder(folder), engine, self.keys, manner, catalog_folder=catalog)
        self.app = local_page(page, host)
        self.client = self.stranger()
        self.client.cookies.set(self.keys.cookie, self.keys.session)

    def stranger(self) -> TestClient:
        """Somebody without the cookie."""
        return TestClient(self.app, base_url=HERE, follow_redirects=False)

    def post(self, path: str, told: Any, **headers: str) -> Any:
        """A change as the page sends it; headers set to "" are left out."""
        usual = {"origin": HERE, PAGE_SECRET: self.keys.page, "sec-fetch-site": "same-origin"}
        sent = {key: value for key, value in {**usual, **headers}.items() if value}
        return self.client.post(path, json=told, headers=sent)

    def answer(self, what: str, case: str, **asked: Any) -> Any:
        """What the engine says in the end."""
        began = self.post("/ask", {"what": what, "case": case, **asked})
        assert began.status_code == 200, began.text
        return self.client.get(f"/asked/{began.json()['number']}").json()
