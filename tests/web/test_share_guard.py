"""What is answered on the home network, and what errors give away there: nothing."""

from __future__ import annotations

import os
import re
import signal
import socket
import sqlite3
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from at_home import ADDRESS, AT_HOME, ON_MACHINE, let_in, serving_at_home, share_of, shared, stranger, van
from click.testing import CliRunner
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from fastapi import FastAPI
from fastapi.testclient import TestClient

from fishplate import __version__
from fishplate.build import Refused
from fishplate.cli import cli
from fishplate.store.devices import Role
from fishplate.web.certificate import LASTS, RENEWED, kept_certificate
from fishplate.web.listening import take_up
from fishplate.web.sharing import home_addresses, home_names, listening

GIVEN_AWAY = re.compile(
    r"Traceback|File \"|\.py\b|/home/|/tmp/|/src/|site-packages|uvicorn|starlette|fastapi|pydantic", re.I
)


@pytest.fixture
def app(tmp_path: Path) -> Iterator[FastAPI]:
    """A shared build."""
    with shared(tmp_path, van()) as found:
        yield found


# names and cross-site requests


@pytest.mark.parametrize(
    "host", ["evil.example", f"{ADDRESS}.evil.example", "127.0.0.1:8138", "localhost", "", "[::1", "a b"]
)
def test_another_name_for_this_machine_is_not_answered(app: FastAPI, host: str) -> None:
    device = let_in(app, Role.OWNER)
    answer = device.get("/", headers={"Host": host})
    assert answer.status_code == 421
    assert "Van" not in answer.text
    assert "set-cookie" not in answer.headers


@pytest.mark.parametrize("host", [f"{ADDRESS}:8138", "garage:8138", "GARAGE.local:8138"])
def test_each_of_its_own_names_is_answered(app: FastAPI, host: str) -> None:
    assert let_in(app, Role.OWNER).get("/", headers={"Host": host}).status_code == 200


def test_nothing_is_answered_in_clear_on_the_network_whatever_name_is_given(app: FastAPI) -> None:
    clear = TestClient(app, base_url=f"http://{ADDRESS}:8137", follow_redirects=False)
    for host in ("127.0.0.1:8137", "localhost", ADDRESS):
        assert clear.get("/", headers={"Host": host}).status_code == 421


def test_a_build_that_is_not_shared_answers_no_https(empty: TestClient) -> None:
    assert TestClient(empty.app, base_url=AT_HOME).get("/").status_code == 421


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://evil.example"},
        {"Origin": f"http://{ADDRESS}:8138"},
        {"Origin": f"https://{ADDRESS}"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_page_of_another_site_changes_nothing_through_a_device_that_is_let_in(
    app: FastAPI, headers: dict[str, str]
) -> None:
    device = let_in(app, Role.OWNER)
    assert device.post("/jobs/sand/hours", data={"revision": "1", "hours": "2"}, headers=headers).status_code == 403
    json = {"revision": 1, "changes": [{"list": "jobs", "id": "sand"}]}
    assert device.post("/api/build", json=json, headers=headers).status_code == 403
    assert device.post("/api/build", data=json).status_code == 415
    assert app.state.desk.file.revision == 1


def test_pages_keep_their_strict_policy_and_ask_for_https_on_the_network_alone(app: FastAPI) -> None:
    for answer in (let_in(app, Role.OWNER).get("/"), stranger(app).get("/pair"), stranger(app).get("/")):
        assert answer.headers["strict-transport-security"].startswith("max-age=")
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        assert answer.headers["cache-control"] == "no-store"
    with TestClient(app, base_url=ON_MACHINE) as machine:
        assert "strict-transport-security" not in machine.get("/").headers


# what a stranger and an error learn


@pytest.mark.parametrize(
    "path", ["/", "/parts", "/photos/x", "/api/build", "/api/openapi.json", "/devices", "/no-such", "/pair/"]
)
def test_a_stranger_learns_nothing_but_where_the_door_is(app: FastAPI, path: str) -> None:
    answer = stranger(app).get(path)
    assert answer.status_code == (401 if path.startswith("/api/") else 303)
    assert "Van" not in answer.text
    assert __version__ not in answer.text


@pytest.mark.parametrize("value", ["", "x", "x" * 5000, "é", "a=b;c", '"', "\x7f"])
def test_a_cookie_that_is_none_of_ours_lets_nobody_in(app: FastAPI, value: str) -> None:
    cookie = f"{share_of(app).cookie}={value}".encode()
    assert stranger(app).get("/", headers={b"Cookie": cookie}).status_code == 303  # type: ignore[dict-item]


def test_errors_give_away_no_path_version_or_trace(app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    device = let_in(app, Role.OWNER)
    answers = [
        device.get("/no-such"),
        device.get("/static/../web"),
        device.get("/static/%2e%2e/web"),
        device.delete("/jobs/sand"),
        device.post("/jobs/sand/hours", data={"revision": "1", "hours": "nan"}),
        device.post("/api/build", json={"revision": "x"}),
        device.post("/api/build", content=b"{", headers={"Content-Type": "application/json"}),
        device.post("/devices/x/out"),
        stranger(app).post("/api/build", json={}),
    ]

    def fail() -> None:
        raise RuntimeError("/home/somebody/secret.py")

    monkeypatch.setattr(app.state.desk.file, "heads", fail)
    answers.append(device.get("/history"))
    assert [answer.status_code for answer in answers] == [404, 404, 404, 405, 422, 422, 422, 422, 401, 500]
    for answer in answers:
        assert not GIVEN_AWAY.search(answer.text), answer.url
        assert __version__ not in answer.text
        assert "server" not in answer.headers
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        assert answer.url.path.startswith("/static/") or answer.headers["cache-control"] == "no-store"


def test_where_the_book_of_devices_can_not_be_read_nobody_comes_in(app: FastAPI, tmp_path: Path) -> None:
    device = let_in(app, Role.OWNER)
    with sqlite3.connect(tmp_path / "own" / "devices.sqlite") as book:
        book.execute("drop table devices")
    for each in (device, stranger(app)):
        each.cookies.set(share_of(app).cookie, "x" * 43)
        answer = each.get("/")
        assert answer.status_code == 503
        assert "Van" not in answer.text
        assert not GIVEN_AWAY.search(answer.text)


# the connection itself


@pytest.fixture(scope="module")
def at_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    """A shared build that really listens."""
    with serving_at_home(tmp_path_factory.mktemp("home"), van()) as found:
        yield found


def sent(app: FastAPI, content: bytes, context: ssl.SSLContext | None = None) -> bytes:
    """What comes back on a connection, in clear or over TLS."""
    with socket.create_connection(("127.0.0.1", share_of(app).port), 5) as raw:
        held = raw if context is None else context.wrap_socket(raw, server_hostname="garage")
        with held:
            found = b""
            hung_up = (ConnectionError, ssl.SSLEOFError)  # it may have heard enough before all was sent
            with suppress(*hung_up):
                held.sendall(content)
            with suppress(*hung_up):
                while piece := held.recv(65536):
                    found += piece
                    if b"\r\n\r\n" in found:
                        break
            return found


def trusting(app: FastAPI) -> ssl.SSLContext:
    """What a device has that took the certificate for good."""
    return ssl.create_default_context(cafile=str(share_of(app).certificate.path))


def test_what_is_sent_in_clear_is_not_answered(at_home: FastAPI) -> None:
    found = sent(at_home, b"GET / HTTP/1.1\r\nHost: garage\r\n\r\n")
    assert b"HTTP" not in found
    assert b"Van" not in found


@pytest.mark.parametrize(
    "rubbish", [b"\x16\x03\x01\x02\x00\x01" + b"\x00" * 600, b"\x80" * 2000, b"SSH-2.0-x\r\n" * 30]
)
def test_rubbish_for_a_handshake_is_not_answered_and_serving_goes_on(at_home: FastAPI, rubbish: bytes) -> None:
    assert b"HTTP" not in sent(at_home, rubbish)
    assert b"303" in sent(at_home, b"GET / HTTP/1.1\r\nHost: garage\r\n\r\n", trusting(at_home)).splitlines()[0]


def test_old_tls_is_refused(at_home: FastAPI) -> None:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    context.set_ciphers("ALL:@SECLEVEL=0")
    with pytest.warns(DeprecationWarning, match="TLSv1"):
        context.minimum_version, context.maximum_version = ssl.TLSVersion.TLSv1, ssl.TLSVersion.TLSv1_1
    with pytest.raises((ssl.SSLError, ConnectionError)):
        sent(at_home, b"GET / HTTP/1.1\r\nHost: garage\r\n\r\n", context)


def test_a_header_does_not_turn_the_network_into_this_machine(at_home: FastAPI) -> None:
    lie = b"X-Forwarded-Proto: http\r\nX-Forwarded-For: 127.0.0.1\r\nX-Forwarded-Host: localhost\r\n"
    found = sent(at_home, b"GET / HTTP/1.1\r\nHost: localhost\r\n" + lie + b"\r\n", trusting(at_home))
    assert found.startswith(b"HTTP/1.1 421")
    found = sent(at_home, b"GET / HTTP/1.1\r\nHost: garage\r\n" + lie + b"\r\n", trusting(at_home))
    assert found.startswith(b"HTTP/1.1 303")


@pytest.mark.parametrize(
    "request_",
    [
        b"GET / HTTP/1.1\r\nHost: garage\r\nX: " + b"x" * 200_000 + b"\r\n\r\n",
        b"rubbish\r\n\r\n",
        b"GET / HTTP/1.1\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: garage\r\nHost: evil.example\r\n\r\n",
        b"POST /pair HTTP/1.1\r\nHost: garage\r\nContent-Length: 5\r\nContent-Length: 6\r\n\r\nhello",
        b"POST /pair HTTP/1.1\r\nHost: garage\r\nContent-Length: -1\r\n\r\n",
        b"POST /pair HTTP/1.1\r\nHost: garage\r\nContent-Length: \xb2\r\n\r\n",
    ],
)
def test_a_request_that_is_none_is_refused_in_few_words(at_home: FastAPI, request_: bytes) -> None:
    found = sent(at_home, request_, trusting(at_home))
    assert found.startswith((b"HTTP/1.1 400", b"HTTP/1.1 431")) or not found
    assert not GIVEN_AWAY.search(found.decode())


def test_the_fingerprint_shown_is_that_of_the_connection(at_home: FastAPI) -> None:
    assert fingerprint_seen(at_home) == share_of(at_home).certificate.fingerprint


def fingerprint_seen(app: FastAPI) -> str:
    """Fingerprint of the certificate that a connection shows."""
    raw = socket.create_connection(("127.0.0.1", share_of(app).port), 5)
    with trusting(app).wrap_socket(raw, server_hostname="garage") as held:
        seen = x509.load_der_x509_certificate(held.getpeercert(binary_form=True) or b"")
    return seen.fingerprint(hashes.SHA256()).hex(":").upper()


def test_a_renewed_certificate_is_taken_up_while_serving(at_home: FastAPI, tmp_path: Path) -> None:
    share = share_of(at_home)
    before = share.certificate
    assert fingerprint_seen(at_home) == before.fingerprint
    take_up(at_home.state.config.ssl, share, kept_certificate(tmp_path, share.names))
    assert fingerprint_seen(at_home) == share.certificate.fingerprint != before.fingerprint


@pytest.mark.long
def test_the_command_serves_at_both_doors_and_leaves_when_told(tmp_path: Path) -> None:
    address = home_addresses()[0]
    free = []
    for _ in range(2):
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            free.append(probe.getsockname()[1])
    own, home = free
    arguments = ["serve", str(tmp_path / "van.fishplate"), "--share", "--address", address]
    program = "from fishplate.cli import main; main()"
    environment = {**os.environ, "FISHPLATE_DATA": str(tmp_path / "own"), "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        [sys.executable, "-c", program, *arguments, "--port", str(own), "--share-port", str(home)],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment,
    ) as served:  # fmt: skip
        assert served.stdout is not None
        said = ""
        while "/devices" not in said:
            said += served.stdout.readline()
        context = ssl.create_default_context(cafile=str(tmp_path / "own" / "share-certificate.pem"))
        for _ in range(100):
            try:
                socket.create_connection(("127.0.0.1", own), 5).close()
                raw = socket.create_connection((address, home), 5)
                with context.wrap_socket(raw, server_hostname=address) as held:
                    assert held.version() in ("TLSv1.2", "TLSv1.3")
                break
            except ConnectionRefusedError:
                time.sleep(0.1)
        served.send_signal(signal.SIGINT)
        rest = served.communicate(timeout=30)[0]
    assert served.returncode == 0
    assert "Traceback" not in rest


# the certificate


NOW = datetime(2026, 3, 1, tzinfo=UTC)


def test_a_certificate_is_kept_by_its_user_alone_and_used_again(tmp_path: Path) -> None:
    first = kept_certificate(tmp_path / "own", [ADDRESS, "garage"], now=NOW)
    assert (first.path.stat().st_mode & 0o777, first.path.parent.stat().st_mode & 0o777) == (0o600, 0o700)
    assert kept_certificate(tmp_path / "own", ["garage", ADDRESS], now=NOW + timedelta(days=100)) == first
    found = x509.load_pem_x509_certificate(first.path.read_bytes())
    assert found.not_valid_after_utc - found.not_valid_before_utc < timedelta(days=398)
    names = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert [str(ip) for ip in names.get_values_for_type(x509.IPAddress)] == [ADDRESS]
    assert names.get_values_for_type(x509.DNSName) == ["garage"]


def test_a_certificate_is_renewed_before_it_ends_and_when_the_address_changed(tmp_path: Path) -> None:
    first = kept_certificate(tmp_path, [ADDRESS], now=NOW)
    assert kept_certificate(tmp_path, [ADDRESS], now=NOW + LASTS - RENEWED) == first
    late = NOW + LASTS - RENEWED + timedelta(days=1)
    second = kept_certificate(tmp_path, [ADDRESS], now=late)
    assert second.fingerprint != first.fingerprint
    assert second.until > first.until
    third = kept_certificate(tmp_path, ["10.0.0.7"], now=late)
    assert third.fingerprint != second.fingerprint
    assert third.names == {"10.0.0.7"}


@pytest.mark.parametrize("damage", [b"", b"rubbish", b"-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n"])
def test_a_damaged_certificate_is_replaced(tmp_path: Path, damage: bytes) -> None:
    first = kept_certificate(tmp_path, [ADDRESS], now=NOW)
    first.path.write_bytes(damage)
    first.path.chmod(0o644)
    second = kept_certificate(tmp_path, [ADDRESS], now=NOW)
    assert second.fingerprint != first.fingerprint
    assert second.path.stat().st_mode & 0o777 == 0o600


# addresses and the command


@pytest.mark.parametrize(
    "address", ["8.8.8.8", "0.0.0.0", "127.0.0.1", "::1", "fe80::1", "224.0.0.1", "garage", "", "2606:4700::1"]
)
def test_an_address_that_is_not_of_a_home_network_is_refused(address: str) -> None:
    with pytest.raises(Refused, match="not a private address"):
        home_addresses([address])


def test_private_addresses_are_taken_and_named() -> None:
    assert home_addresses([ADDRESS, "fd00::7", ADDRESS]) == (ADDRESS, "fd00::7")
    assert {ADDRESS, "fd00::7"} <= home_names((ADDRESS, "fd00::7"))


def test_an_address_that_is_not_this_machines_is_said() -> None:
    with pytest.raises(Refused, match=r"can't be listened on"):
        listening([ADDRESS], 8138)


def test_what_listens_names_tcp_so_that_answers_do_not_lag() -> None:
    """The event loop turns gathering of small pieces off only for such sockets; else a page lags 40 ms on the phone."""
    (found,) = listening(["127.0.0.1"], 0)
    with found:
        assert found.proto == socket.IPPROTO_TCP


def test_the_command_says_where_what_to_compare_and_on_a_terminal_the_code(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FISHPLATE_DATA", str(tmp_path / "own"))
    seen: dict[str, object] = {}
    monkeypatch.setattr("fishplate.web.listening.serve_both", lambda *given: seen.update(share=given[2]))
    monkeypatch.setattr("fishplate.web.sharing.listening", lambda *_: [])
    path = tmp_path / "van.fishplate"
    arguments = ["serve", str(path), "--share", "--address", ADDRESS, "--let-in", "looker"]
    result = CliRunner().invoke(cli, arguments)
    assert result.exit_code == 0, result.output
    assert seen["share"].invitations.open is None  # type: ignore[attr-defined]
    assert "http://127.0.0.1:8137/devices" in result.output
    monkeypatch.setattr("fishplate.cli.serve_command._is_terminal", lambda: True)
    result = CliRunner().invoke(cli, arguments)
    share = seen["share"]
    code = share.invitations.open  # type: ignore[attr-defined]
    assert code.role is Role.LOOKER
    for words in (f"{AT_HOME}/", share.certificate.fingerprint, code.shown, "█", "http://127.0.0.1:8137/devices"):  # type: ignore[attr-defined]
        assert words in result.output


@pytest.mark.parametrize(
    "arguments", [["--address", ADDRESS], ["--share", "--port", "8138"], ["--share", "--let-in", "king"]]
)
def test_options_that_do_not_go_together_are_misuse(tmp_path: Path, arguments: list[str]) -> None:
    path = tmp_path / "van.fishplate"
    assert CliRunner().invoke(cli, ["serve", str(path), *arguments]).exit_code == 2
    assert not path.exists()
