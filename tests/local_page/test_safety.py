"""Who is refused: other pages, other hosts, whoever has no token, and whatever leads out of the folder."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from deskmend.intake.catalog import text_digest
from deskmend.local_page.folder import CaseFolder, ChangedMeanwhile, NotInFolder
from deskmend.local_page.handling import PAGE_SECRET, Keys, hosts_of, is_loopback

from .served import HERE, PORT, Served, case_text


@pytest.fixture
def page(tmp_path: Path) -> Served:
    folder = tmp_path / "cases"
    folder.mkdir()
    (folder / "mine.yaml").write_text(case_text(), encoding="utf-8")
    (tmp_path / "outside.yaml").write_text(case_text(title="Outside"), encoding="utf-8")
    return Served(folder)


READS = ("/", "/strain/mine.yaml", "/plan/mine.yaml", "/hand/mine.yaml", "/asked/x", "/made/x", "/nothing")
CHANGES = ("/ask", "/stop", "/wishes", "/keep", "/example")


@pytest.mark.parametrize(
    "host", ["evil.example", f"evil.example:{PORT}", "127.0.0.1", f"127.0.0.1:{PORT + 1}", ""]
)
def test_a_foreign_host_is_refused_always(page: Served, host: str) -> None:
    for path in (*READS, f"/enter?token={page.keys.token}"):
        assert page.client.get(path, headers={"host": host}).status_code == 403
    for path in CHANGES:
        assert page.post(path, {}, host=host or "x").status_code == 403
    assert page.client.get(f"/enter?token={page.keys.token}").status_code == 200, "the token was not spent"


@pytest.mark.parametrize("host", [f"localhost:{PORT}", f"127.0.0.1:{PORT}", f"[::1]:{PORT}"])
def test_this_machine_has_three_names(page: Served, host: str) -> None:
    assert page.client.get("/", headers={"host": host}).status_code == 200


def test_nothing_is_read_or_changed_without_the_cookie(page: Served) -> None:
    stranger = page.stranger()
    for path in READS:
        assert stranger.get(path).status_code == 401
    for path in CHANGES:
        sent = {"origin": HERE, PAGE_SECRET: page.keys.page}
        assert stranger.post(path, json={}, headers=sent).status_code == 401
    stranger.cookies.set(page.keys.cookie, page.keys.session[::-1] + "x")
    assert stranger.get("/").status_code == 401
    stranger.cookies.set(f"deskmend_{PORT + 1}", page.keys.session)
    assert stranger.get("/").status_code == 401


def test_the_token_opens_once_and_leaves_the_address(page: Served) -> None:
    token = page.keys.token
    stranger = page.stranger()
    assert stranger.get("/enter").status_code == 403
    assert stranger.get("/enter?token=wrong").status_code == 403
    first = stranger.get(f"/enter?token={token}", headers={"sec-fetch-site": "cross-site"})
    assert first.status_code == 200
    assert token not in first.text
    assert 'content="0; url=/"' in first.text
    cookie = first.headers["set-cookie"]
    assert cookie.startswith(f"deskmend_{PORT}=")
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert stranger.get("/").status_code == 200
    assert page.stranger().get(f"/enter?token={token}").status_code == 403
    assert page.keys.token != token


def test_another_page_reads_nothing(page: Served) -> None:
    for site, status in (("cross-site", 403), ("same-site", 403), ("none", 200), ("same-origin", 200)):
        assert page.client.get("/", headers={"sec-fetch-site": site}).status_code == status


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": ""},
        {"origin": f"http://localhost:{PORT}"},
        {"origin": f"https://127.0.0.1:{PORT}"},
        {PAGE_SECRET: "wrong"},
        {PAGE_SECRET: ""},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "none"},
    ],
)
def test_a_change_needs_origin_and_secret(page: Served, headers: dict[str, str]) -> None:
    for path in CHANGES:
        assert page.post(path, {}, **headers).status_code == 403
    assert not (page.folder / "example").exists()


def test_no_get_changes_anything(page: Served) -> None:
    for path in CHANGES:
        assert page.client.get(path).status_code == 405
    for method in ("PUT", "DELETE", "PATCH", "OPTIONS"):
        assert page.client.request(method, "/wishes").status_code == 405
    assert sorted(one.name for one in page.folder.iterdir()) == ["mine.yaml"]


def test_every_answer_is_kept_from_stores_frames_and_other_pages(page: Served) -> None:
    for path in (*READS, "/enter"):
        headers = page.client.get(path).headers
        assert headers["cache-control"] == "no-store"
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["x-frame-options"] == "DENY"
        assert headers["x-content-type-options"] == "nosniff"
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy


@pytest.mark.parametrize(
    "name",
    [
        "../outside.yaml",
        "%2e%2e/outside.yaml",
        "..%2foutside.yaml",
        "mine.yaml/../../outside.yaml",
        "/etc/passwd",
        "linked.yaml",
        "linked/case.yaml",
        ".hidden.yaml",
        "a/b/c.yaml",
        "other.txt",
        "nothing.yaml",
        "..\\outside.yaml",
        "mine.yaml%00",
    ],
)
def test_no_path_leads_out_of_the_folder(page: Served, name: str) -> None:
    out = page.folder.parent
    (out / "far").mkdir()
    (out / "far" / "case.yaml").write_text(case_text(), encoding="utf-8")
    (page.folder / "linked.yaml").symlink_to(out / "outside.yaml")
    (page.folder / "linked").symlink_to(out / "far", target_is_directory=True)
    (page.folder / ".hidden.yaml").write_text(case_text(), encoding="utf-8")
    for screen in ("plan", "strain", "hand"):
        assert page.client.get(f"/{screen}/{name}").status_code == 404
    assert page.post("/ask", {"what": "strain", "case": name}).status_code == 404
    assert page.post("/wishes", {"case": name, "version": "", "must": [], "never": []}).status_code == 404
    shown = page.client.get("/").text
    assert "Outside" not in shown
    assert "linked" not in shown


@pytest.mark.parametrize(
    ("told", "status"),
    [
        ({}, 400),
        ({"what": "warm", "case": "mine.yaml"}, 400),
        ({"what": "plan", "case": 7}, 400),
        ({"what": "plan", "case": "mine.yaml", "cost": -1}, 400),
        ({"what": "plan", "case": "mine.yaml", "must": ["x"] * 101}, 400),
        ({"what": "plan", "case": "mine.yaml", "must": "x"}, 400),
        ({"what": "beside", "case": "mine.yaml", "first": {}}, 400),
        ([1], 400),
        ("[" * 100_000, 400),
        ("x" * 300_000, 413),
    ],
)
def test_what_cannot_be_understood_is_refused(page: Served, told: object, status: int) -> None:
    headers = {"origin": HERE, PAGE_SECRET: page.keys.page, "content-type": "application/json"}
    if isinstance(told, str):
        assert page.client.post("/ask", content=told, headers=headers).status_code == status
    else:
        assert page.post("/ask", told).status_code == status


def test_a_form_of_another_kind_is_no_change(page: Served) -> None:
    headers = {"origin": HERE, PAGE_SECRET: page.keys.page, "content-type": "text/plain"}
    assert page.client.post("/example", content="{}", headers=headers).status_code == 400


def test_hosts_and_loopback() -> None:
    assert is_loopback("127.0.0.1")
    assert not is_loopback("0.0.0.0")
    assert "[::1]:80" in hosts_of("127.0.0.1", 80)
    assert "desk.local:80" in hosts_of("desk.local", 80)
    assert len(Keys(1).token) > 40


# --- the folder -----------------------------------------------------------------------------------------


def test_two_tabs_at_once_and_the_second_is_told(page: Served) -> None:
    _, version = CaseFolder(page.folder).read("mine.yaml")
    told = {"case": "mine.yaml", "version": version, "must": [], "never": ["seat_cushion"]}
    first = page.post("/wishes", told)
    assert first.status_code == 200
    written = (page.folder / "mine.yaml").read_bytes()
    second = page.post("/wishes", {**told, "never": []})
    assert second.status_code == 409
    assert "Nothing was written" in second.text
    assert (page.folder / "mine.yaml").read_bytes() == written
    assert page.post("/wishes", {**told, "version": first.json()["version"], "never": []}).status_code == 200


def test_a_file_is_written_by_rename_for_its_owner_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = CaseFolder(tmp_path)
    version = folder.add("new.yaml", "one")
    path = tmp_path / "new.yaml"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    before = path.stat().st_ino
    assert folder.change("new.yaml", "two", version) == text_digest(b"two")
    assert path.stat().st_ino != before, "never written over in its place"
    with pytest.raises(ChangedMeanwhile):
        folder.change("new.yaml", "three", version)
    with pytest.raises(FileExistsError):
        folder.add("new.yaml", "three")
    for name in ("../new.yaml", "a/b/c.yaml", ".new.yaml", "no/such.yaml", "a\\b.yaml", ""):
        with pytest.raises(NotInFolder):
            folder.add(name, "x")

    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    # killed between the two halves of a write: the file is as it was, what is left goes at the next start
    monkeypatch.setattr(os, "replace", killed)
    monkeypatch.setattr(Path, "unlink", lambda *_, **__: None)
    with pytest.raises(KeyboardInterrupt):
        folder.change("new.yaml", "half", text_digest(b"two"))
    monkeypatch.undo()
    assert path.read_text(encoding="utf-8") == "two"
    assert len(list(tmp_path.iterdir())) == 2
    assert [one.name for one in folder.cases()] == []
    folder.clear_unfinished()
    assert [one.name for one in tmp_path.iterdir()] == ["new.yaml"]


def test_the_same_guard_for_a_server_that_others_can_reach(tmp_path: Path) -> None:
    page = Served(tmp_path, host="desk.local")
    client = TestClient(page.app, base_url=f"http://desk.local:{PORT}")
    assert client.get("/").status_code == 401
    client.cookies.set(page.keys.cookie, page.keys.session)
    assert client.get("/").status_code == 200
