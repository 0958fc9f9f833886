"""A local page that is killed while it writes: the server as a process, asked over the network.

What a write does is done slowly on purpose, so that a kill lands within it.
"""

from __future__ import annotations

import http.client
import json
import os
import queue
import re
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

SLOWLY = """
import os, runpy, sqlite3, sys, time

def tell(what):
    print("at", what, file=sys.stderr, flush=True)
    time.sleep(0.02)

def slow(name):
    real = getattr(os, name)
    def call(*given):
        tell(name)
        return real(*given)
    setattr(os, name, call)

for name in ("fsync", "replace", "rename"):
    slow(name)

class Slow(sqlite3.Connection):
    def execute(self, text, *given):
        if text.split()[0] in ("BEGIN", "INSERT", "DELETE", "COMMIT", "VACUUM"):
            tell(text.split()[0])
        return super().execute(text, *given)
    def executemany(self, text, *given):
        tell("many")
        return super().executemany(text, *given)

connect = sqlite3.connect
sqlite3.connect = lambda *given, **named: connect(*given, factory=Slow, **named)
if __name__ == "__main__":
    sys.argv = ["deskmend", "open", sys.argv[1], "--no-browser", "--catalog", sys.argv[2]]
    runpy.run_module("deskmend", run_name="__main__")
"""


class Running:
    """``python -m deskmend open`` of a folder, entered by the file it names."""

    def __init__(self, folder: Path, catalog: Path) -> None:
        command = [sys.executable, "-c", SLOWLY, str(folder), str(catalog)]
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env={**os.environ}
        )
        self.steps: queue.Queue[str] = queue.Queue()
        self._hearing = threading.Thread(target=self._hear, daemon=True)
        self._hearing.start()
        assert self.process.stdout is not None
        told = [self.process.stdout.readline() for _ in range(2)]
        self.port = int(re.findall(r":(\d+)/", told[0])[0])
        way_in = Path(told[1].partition("this file: ")[2].strip())
        token = re.findall(r"token=([\w-]+)", way_in.read_text(encoding="utf-8"))[0]
        self.cookie = ""
        status, _, headers = self._asked("GET", f"/enter?token={token}")
        assert status == 200
        self.cookie = str(headers["set-cookie"]).partition(";")[0]
        _, page, _ = self._asked("GET", "/")
        self.secret = re.findall(r'"secret": "([\w-]+)"', page)[0]

    def _asked(
        self, method: str, path: str, told: Any = None, more: dict[str, str] | None = None
    ) -> tuple[int, str, Any]:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        try:
            body = None if told is None else json.dumps(told)
            connection.request(method, path, body, {"cookie": self.cookie, **(more or {})})
            answer = connection.getresponse()
            return answer.status, answer.read().decode("utf-8"), answer.headers
        finally:
            connection.close()

    def read(self, path: str) -> str:
        """A screen."""
        status, text, _ = self._asked("GET", path)
        assert status == 200, text
        return text

    def post(self, path: str, told: Any) -> tuple[int, Any]:
        """A change as the page sends it."""
        headers = {
            "origin": f"http://127.0.0.1:{self.port}",
            "x-deskmend-page": self.secret,
            "content-type": "application/json",
        }
        status, text, _ = self._asked("POST", path, told, headers)
        return status, json.loads(text) if status == 200 else text

    def worked_out(self, path: str, told: Any) -> Any:
        """What the engine says in the end."""
        status, began = self.post(path, told)
        assert status == 200, began
        end = time.monotonic() + 300
        while time.monotonic() < end:
            found = json.loads(self.read(f"/asked/{began['number']}"))
            if found["state"] not in ("waiting", "working"):
                assert found["state"] == "done", found
                return found["answer"]
        raise AssertionError("the engine does not end")

    def _hear(self) -> None:
        assert self.process.stderr is not None
        for line in self.process.stderr:
            if line.startswith("at "):
                self.steps.put(line)

    def quiet(self) -> None:
        """Forget the steps of what was written before."""
        time.sleep(0.2)
        while not self.steps.empty():
            self.steps.get()

    def kill_at(self, number: int, later: float) -> None:
        """End the server without a chance to tidy up, some time after so many steps of a write.

        A write of fewer steps is over by then.
        """
        for _ in range(number):
            try:
                self.steps.get(timeout=5)
            except queue.Empty:
                break
        time.sleep(later)
        self.kill()

    def kill(self) -> None:
        """End the server, and wait until it is gone."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(60)
        self._hearing.join(60)
        for stream in (self.process.stdout, self.process.stderr):
            if stream is not None:
                stream.close()
