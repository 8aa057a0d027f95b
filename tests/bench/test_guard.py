"""Who is let in: by host, origin, token and one-time code; and what every answer says about itself."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.testclient import TestClient

from bubblegrade.bench.app import bench_app
from bubblegrade.bench.guard import CODE_LENGTH, COOKIE, MOST_WRONG, TOKEN_HEADER, Access, allowed_hosts, new_code

BASE = "http://127.0.0.1:8750"
PAGES = ("/", "/tray/progress", "/join", "/static/bench.css", "/nowhere")


@pytest.fixture
def shared(folder: Path) -> Starlette:
    """Return a bench that others on the network may ask."""
    return bench_app(folder, Access(allowed_hosts(8750, ["192.0.2.7"]), "Ann", shared=True), version="0.1")


@pytest.fixture
def phone(shared: Starlette) -> TestClient:
    """Return a client on the network, which is not this machine."""
    base = "http://192.0.2.7:8750"
    client = TestClient(shared, base_url=base, follow_redirects=False)
    client.headers.update({"origin": base})
    return client


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1:9999", "127.0.0.1.evil.example:8750", "192.0.2.7:8750", ""]
)
def test_another_host_is_not_answered(client: TestClient, path: str, host: str) -> None:
    # A name that was made to lead here (DNS rebinding) comes with that name as its host.
    assert client.get(path, headers={"host": host}).status_code == 421


@pytest.mark.parametrize("host", ["localhost:8750", "127.0.0.1:8750", "[::1]:8750", "LOCALHOST:8750"])
def test_this_machines_own_names_are_answered(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1:8750", "http://127.0.0.1:1", ""])
@pytest.mark.parametrize(
    ("method", "path"), [("POST", "/tray/grade"), ("PUT", "/tray/drop?name=a.png"), ("POST", "/join")]
)
def test_a_change_from_another_origin_is_refused(client: TestClient, origin: str, method: str, path: str) -> None:
    answer = client.request(method, path, headers={"origin": origin}, content=b"{}")
    assert answer.status_code == 403
    assert "own page only" in answer.text


def test_a_change_without_the_pages_token_is_refused(client: TestClient) -> None:
    for token in ("", "wrong", "é"):
        answer = client.post("/tray/grade", headers={TOKEN_HEADER: token.encode()}, content=b"{}")
        assert answer.status_code == 403
        assert "load it again" in answer.text


@pytest.mark.parametrize("path", PAGES)
def test_every_answer_keeps_the_page_to_itself(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    assert headers["content-security-policy"].startswith("default-src 'self';")
    assert "unsafe" not in headers["content-security-policy"]
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert "access-control-allow-origin" not in headers


@pytest.mark.parametrize("path", ["/", "/tray/progress", "/casting/a.png", "/nowhere"])
def test_from_elsewhere_only_the_door_is_open(phone: TestClient, path: str) -> None:
    answer = phone.get(path)
    assert (answer.status_code, answer.headers["location"]) == (303, "/join")
    assert phone.get("/join").status_code == 200


def test_the_code_lets_one_device_in_once(phone: TestClient, shared: Starlette) -> None:
    access = shared.state.bench.access
    code = access.code
    answer = phone.post("/join", data={"code": f" {code.upper()} ", "who": "Zoë"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert phone.get("/").status_code == 200
    phone.cookies.clear()
    assert phone.post("/join", data={"code": code, "who": "Max"}).status_code == 403
    assert access.code != code


def test_a_phone_changes_under_its_own_name_and_only_with_the_token(phone: TestClient, shared: Starlette) -> None:
    phone.post("/join", data={"code": shared.state.bench.access.code, "who": "Zoë"})
    name = shared.state.bench.folder.photographs[0]
    change = {"what": "remove", "find": "v0", "seen": 0}
    assert phone.post(f"/casting/{name}/change", json=change).status_code == 403
    token = {TOKEN_HEADER: shared.state.bench.access.token}
    assert phone.post(f"/casting/{name}/change", json=change, headers=token).status_code == 200
    assert shared.state.bench.castings.of(name).steps[0].who == "Zoë"


def test_a_wrong_session_is_no_session(phone: TestClient) -> None:
    for value in ("guess", "", "a;b", "\\"):
        assert phone.get("/", headers={"cookie": f"{COOKIE}={value}"}).status_code == 303


def test_guessing_uses_the_code_up(phone: TestClient, shared: Starlette) -> None:
    access = shared.state.bench.access
    code = access.code
    for _ in range(MOST_WRONG):
        assert phone.post("/join", data={"code": "nonsense", "who": "Max"}).status_code == 403
    assert access.code != code


@pytest.mark.parametrize("body", [b"", b"code=x", b"code=x&who=%0a", b"\xff\xfe", b"who=" + 200_001 * b"a"])
def test_a_form_that_is_none_lets_nobody_in(phone: TestClient, body: bytes) -> None:
    assert phone.post("/join", content=body).status_code in {400, 403}


def test_codes_are_long_random_and_free_of_signs_that_are_taken_for_others() -> None:
    codes = {new_code() for _ in range(200)}
    assert len(codes) == 200
    assert {len(code) for code in codes} == {CODE_LENGTH}
    assert not set("".join(codes)) & set("ilo01")


def test_who_sits_at_the_machine_needs_no_code(shared: Starlette) -> None:
    client = TestClient(shared, base_url=BASE, client=("127.0.0.1", 50000))
    page = client.get("/").text
    assert shared.state.bench.access.code in page
