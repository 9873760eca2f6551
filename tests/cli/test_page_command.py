"""`understudy page`: what it refuses, where it listens, when it is ready and how it ends."""

from __future__ import annotations

import contextlib
import http.client
import os
import signal
import socket
import ssl
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

SECONDS = 20
SCRIPT = Path(sys.executable).with_name("understudy")


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as found:
        return int(found.getsockname()[1])


@pytest.fixture
def told(small: Path, tmp_path: Path, runtime: Path, state_folder: Path) -> list[str]:
    """What every page here is told; the runtime and state folder come by the environment."""
    return ["page", str(small), "--people", str(tmp_path / "people.toml")]


@contextlib.contextmanager
def served(told: list[str], *words: str) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """A page that has said to systemd that it is ready; and its port."""
    port = free_port()
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as systemd:
        systemd.settimeout(SECONDS)
        systemd.bind("")  # a name of the kernel's choice (unix(7), autobind)
        address = "@" + systemd.getsockname()[1:].decode()
        process = subprocess.Popen(
            [SCRIPT, *told, "--port", str(port), *words],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=os.environ | {"NOTIFY_SOCKET": address},
        )
        try:
            assert systemd.recv(100) == b"READY=1"
            yield process, port
        finally:
            process.kill()
            process.communicate()


def asked(port: int, target: str, *, tls: ssl.SSLContext | None = None) -> tuple[int, bytes]:
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=SECONDS)
    if tls is not None:
        link = http.client.HTTPSConnection("127.0.0.1", port, timeout=SECONDS, context=tls)
    link.request("GET", target)
    answer = link.getresponse()
    try:
        return answer.status, answer.read()
    finally:
        link.close()


# ── refused ──────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("half", ["--certificate", "--key"])
def test_half_of_tls_is_refused(understudy, told, half):
    said = understudy(*told, half, "/x.pem")
    assert said.code == 1
    assert said.err == (
        "understudy: --certificate and --key belong together: name both, or neither\n"
    )


def test_files_that_are_no_certificate_are_refused(understudy, told, tmp_path):
    (file := tmp_path / "x.pem").write_text("no certificate")
    said = understudy(*told, "--certificate", file, "--key", file)
    assert said.code == 1
    assert f"{file}, {file}: no certificate and its key" in said.err
    said = understudy(*told, "--certificate", tmp_path / "none", "--key", file)
    assert said.code == 1
    assert "No such file" in said.err


@pytest.mark.parametrize("proxy", ["*", "", "proxy.example", "10.0.0.0/8", "127.0.0.1,10.0.0.1"])
def test_only_one_proxy_is_believed_by_its_address(understudy, told, proxy):
    said = understudy(*told, "--behind-proxy", proxy)
    assert said.code == 1
    assert "expected the proxy's own address, such as 127.0.0.1" in said.err


def test_that_the_port_is_taken_is_said_in_words(understudy, told):
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        said = understudy(*told, "--port", port)
    assert said.code == 1
    assert said.out == ""
    assert said.err == (
        f"understudy: 127.0.0.1:{port}: something else listens there already. End it, or name "
        "another place by --port\n"
    )


@pytest.mark.parametrize("host", ["192.0.2.1", "none.invalid"])
def test_an_address_of_another_machine_is_refused(understudy, told, host):
    said = understudy(*told, "--host", host, "--port", free_port())
    assert said.code == 1
    assert host in said.err


def test_a_people_file_with_a_fault_is_said_at_the_start(understudy, told, tmp_path):
    (tmp_path / "people.toml").write_text("[people.anna]\nrole = 'boss'\npassword = ''\n")
    said = understudy(*told)
    assert said.code == 1
    assert "people.toml: people.anna.role" in said.err


# ── at work ──────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("sign", [signal.SIGTERM, signal.SIGINT])
def test_it_says_where_it_is_and_when_it_is_ready_and_ends_when_told(told, sign):
    with served(told) as (process, port):
        assert asked(port, "/health")[0] == 503, "no daemon runs"
        process.send_signal(sign)
        out, err = process.communicate(timeout=SECONDS)
    # By the signal, which systemd takes for a clean end (systemd.service(5), SuccessExitStatus=);
    # and 128 + 2, as a shell has it, where a person ends it.
    assert process.returncode in (-sign, 128 + sign)
    assert out == f"The page is at http://127.0.0.1:{port}/\n"
    assert err == ""


def test_it_ends_while_somebody_is_connected(told):
    with served(told) as (process, port), socket.create_connection(("127.0.0.1", port)) as link:
        link.sendall(b"POST /sign-in HTTP/1.1\r\nHost: pi\r\nContent-Length: 9\r\n\r\na")
        process.terminate()
        process.communicate(timeout=SECONDS)
    assert process.returncode == -signal.SIGTERM


def answer_to(port: int, sent: bytes) -> bytes:
    """The beginning of the answer; nothing, where it parts from whoever says too much."""
    with (
        contextlib.suppress(ConnectionError),
        socket.create_connection(("127.0.0.1", port), timeout=SECONDS) as link,
    ):
        link.sendall(sent)
        link.shutdown(socket.SHUT_WR)
        return link.recv(100)
    return b""


NO_HTTP = [
    b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",  # the hello of TLS
    b"GET /\xff?\xfe HTTP/1.1\r\nHost: pi\r\n\r\n",
    b"GET / HTTP/1.1\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
    b"GET http://[ HTTP/1.1\r\nHost: [\r\n\r\n",
    b"GET /%00%ff%zz HTTP/1.1\r\nHost: pi\r\n\r\n",
    b"POST /sign-in HTTP/1.1\r\nHost: pi\r\nContent-Length: -1\r\n\r\n",
    b"POST / HTTP/1.1\r\nHost: pi\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n",
    b"GET / HTTP/9.9\r\nHost: pi\r\n\r\n",
    b"GET /" + b"a" * 100_000 + b" HTTP/1.1\r\nHost: pi\r\n\r\n",
    b"GET / HTTP/1.1\r\n" + b"X: y\r\n" * 20_000 + b"\r\n",
    b"\r\n\r\n\r\n",
    b"",
]


def test_what_is_no_http_is_no_fault_of_the_page(told):
    with served(told) as (process, port):
        for sent in NO_HTTP:
            assert not answer_to(port, sent).startswith(b"HTTP/1.1 5"), sent[:50]
        assert asked(port, "/sign-in")[0] == 200
        process.terminate()
        _, err = process.communicate(timeout=SECONDS)
    assert "Traceback" not in err


def test_a_body_whose_parts_are_none_is_no_fault_of_the_page(told):
    sent = b"POST /sign-in HTTP/1.1\r\nHost: pi\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n"
    with served(told) as (_, port):
        assert answer_to(port, sent).startswith(b"HTTP/1.1 4")
        assert asked(port, "/sign-in")[0] == 200


def test_with_a_certificate_it_is_served_by_tls_alone(told, tmp_path):
    key, certificate = tmp_path / "key.pem", tmp_path / "certificate.pem"
    # req(1ssl): a certificate that signs itself.
    words = "req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2 -subj /CN=pi"
    made = ["openssl", *words.split(), "-addext", "subjectAltName=IP:127.0.0.1"]
    made += ["-keyout", str(key), "-out", str(certificate)]
    subprocess.run(made, check=True, capture_output=True)
    trusted = ssl.create_default_context(cafile=certificate)
    with served(told, "--certificate", str(certificate), "--key", str(key)) as (process, port):
        assert asked(port, "/sign-in", tls=trusted)[0] == 200
        with pytest.raises((http.client.HTTPException, ConnectionError)):
            asked(port, "/sign-in")
        process.terminate()
        out, _ = process.communicate(timeout=SECONDS)
    assert out == f"The page is at https://127.0.0.1:{port}/\n"


def test_passwords_for_all_to_read_are_warned_of(told):
    with served(told, "--host", "0.0.0.0") as (process, _):
        process.terminate()
        _, err = process.communicate(timeout=SECONDS)
    assert "Passwords will cross the network for all to read" in err
