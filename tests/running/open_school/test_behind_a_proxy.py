"""HTTPS end to end, with a real nginx in front of the real server (Debian's `nginx-light`)."""

from __future__ import annotations

import http.client
import os
import re
import shutil
import ssl
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.running.house import House, free_port, house, wait_for

pytestmark = pytest.mark.slow

PASSPHRASE, WRONG = "cove-lantern-copper-31", "wrong-lantern-77"
MAKE_A_TEACHER = f"""
from classroom.models import School
from classroom.setting_up import set_up
set_up(School(name="Proxy Cove School"), username="tess", display_name="Tess Bell",
       passphrase="{PASSPHRASE}")
"""
CONFIGURATION = """
daemon off; pid {folder}/nginx.pid; error_log {folder}/nginx.log; worker_processes 1;
events {{}}
http {{
  access_log off;
  client_body_temp_path {folder}/b; proxy_temp_path {folder}/p; fastcgi_temp_path {folder}/f;
  uwsgi_temp_path {folder}/u; scgi_temp_path {folder}/s;
  server {{
    listen 127.0.0.1:{port} ssl;
    ssl_certificate {folder}/certificate.pem; ssl_certificate_key {folder}/key.pem;
    location / {{
      proxy_pass http://127.0.0.1:{behind};
      proxy_set_header Host $http_host;
      proxy_set_header X-Forwarded-For $proxy_add_x_forwarded_for;
      proxy_set_header X-Forwarded-Proto $scheme;
    }}
  }}
}}
"""


def tool(name: str) -> str:
    found = shutil.which(name, path=os.environ["PATH"] + os.pathsep + "/usr/sbin")
    if found is None:
        pytest.skip(f"A proxy in front needs {name}.")
    return found


@pytest.fixture(scope="module")
def front(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[House, int, ssl.SSLContext]]:
    """The house, the port at which nginx speaks TLS for it, and whom to trust for that."""
    nginx, openssl = tool("nginx"), tool("openssl")
    folder, port = tmp_path_factory.mktemp("nginx"), free_port()
    subprocess.run(
        [
            *(openssl, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"),
            *("-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost"),
            *("-keyout", str(folder / "key.pem"), "-out", str(folder / "certificate.pem")),
        ],
        check=True,
        capture_output=True,
    )
    told = {
        "BENCHLEDGER_TLS": "1",
        "BENCHLEDGER_PROXIES": "127.0.0.1",
        "BENCHLEDGER_HOSTS": f"localhost:{port},localhost",
        "BENCHLEDGER_LOG": "INFO",
    }
    with house(tmp_path_factory.mktemp("school"), **told) as one:
        one.open()
        (folder / "nginx.conf").write_text(
            CONFIGURATION.format(folder=folder, port=port, behind=one.port)
        )
        # Debian's own configuration runs as www-data; ours runs as whoever tests, in this folder.
        server = subprocess.Popen(
            [nginx, "-e", str(folder / "nginx.log"), "-c", str(folder / "nginx.conf")],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        trust = ssl.create_default_context(cafile=str(folder / "certificate.pem"))
        try:
            wait_for(lambda: answers(port, trust))
            yield one, port, trust
        finally:
            server.terminate()
            server.wait(timeout=60)


def answers(port: int, trust: ssl.SSLContext) -> bool:
    try:
        return over_tls(port, trust, "/health/")[0] == 200
    except OSError:
        return False


def over_tls(
    port: int,
    trust: ssl.SSLContext,
    path: str,
    method: str = "GET",
    body: str = "",
    *,
    address: str = "127.0.0.1",
    **headers: str,
) -> tuple[int, dict[str, str], str]:
    """Status, headers and body, asked from one of this machine's own addresses."""
    connection = http.client.HTTPSConnection(
        "localhost", port, timeout=60, context=trust, source_address=(address, 0)
    )
    try:
        connection.request(method, path, body=body or None, headers=headers)
        answer = connection.getresponse()
        found = {name.lower(): value for name, value in answer.getheaders()}
        return answer.status, found, answer.read().decode()
    finally:
        connection.close()


def test_a_page_comes_over_tls_and_is_not_sent_to_itself(
    front: tuple[House, int, ssl.SSLContext],
) -> None:
    _, port, trust = front
    status, headers, body = over_tls(port, trust, "/first-run/")
    assert status == 200
    assert "<form" in body
    assert "strict-transport-security" in headers
    assert "Secure" in headers["set-cookie"]


def test_a_form_is_taken_over_tls(front: tuple[House, int, ssl.SSLContext]) -> None:
    """A form from another origin is refused; from this one it gets as far as its fields."""
    _, port, trust = front
    _, headers, body = over_tls(port, trust, "/first-run/")
    token = body.partition('name="csrfmiddlewaretoken" value="')[2].partition('"')[0]
    cookie = headers["set-cookie"].partition(";")[0]
    sent = {
        "Cookie": cookie,
        "Content-Type": "application/x-www-form-urlencoded",
        "Origin": f"https://localhost:{port}",
        "Referer": f"https://localhost:{port}/first-run/",
    }
    form = f"csrfmiddlewaretoken={token}&name="
    status, _, body = over_tls(port, trust, "/first-run/", "POST", form, **sent)
    assert status == 200
    assert "required" in body
    foreign = {**sent, "Origin": "https://elsewhere.example.org"}
    assert over_tls(port, trust, "/first-run/", "POST", form, **foreign)[0] == 403


def test_without_tls_a_page_is_sent_to_its_safe_address(
    front: tuple[House, int, ssl.SSLContext],
) -> None:
    one, _, _ = front
    assert one.get("/sign-in/")[0] == 301


@pytest.fixture(scope="module")
def teacher(front: tuple[House, int, ssl.SSLContext]) -> str:
    """The name of a teacher; the passphrase is the one above."""
    done = front[0].manage("shell", "-c", MAKE_A_TEACHER)
    assert done.returncode == 0, done.stderr
    return "tess"


def sign_in(
    front: tuple[House, int, ssl.SSLContext], name: str, passphrase: str, address: str
) -> tuple[int, dict[str, str], str]:
    _, port, trust = front
    _, headers, body = over_tls(port, trust, "/sign-in/", address=address)
    token = body.partition('name="csrfmiddlewaretoken" value="')[2].partition('"')[0]
    sent = {
        "Cookie": headers["set-cookie"].partition(";")[0],
        "Content-Type": "application/x-www-form-urlencoded",
        "Referer": f"https://localhost:{port}/sign-in/",
    }
    form = f"csrfmiddlewaretoken={token}&username={name}&password={passphrase}"
    return over_tls(port, trust, "/sign-in/", "POST", form, address=address, **sent)


def test_a_teacher_signs_in_over_tls_and_reads_the_first_page(
    front: tuple[House, int, ssl.SSLContext], teacher: str
) -> None:
    _, port, trust = front
    status, headers, _ = sign_in(front, teacher, PASSPHRASE, "127.0.0.1")
    assert status == 302
    assert not headers["location"].startswith("http:")
    cookies = re.findall(r"(sessionid=[^;]+);([^,]*(?:, \d[^,]*)?)", headers["set-cookie"])
    ((session, attributes),) = cookies
    assert "Secure" in attributes
    assert "HttpOnly" in attributes
    status, _, body = over_tls(port, trust, "/", Cookie=session)
    assert status == 200
    assert "Tess Bell" in body


def test_the_guesser_is_slowed_and_not_everybody_behind_the_same_proxy(
    front: tuple[House, int, ssl.SSLContext], teacher: str
) -> None:
    """Two clients of the loopback network, told apart by what the proxy says of them."""
    tries = [sign_in(front, teacher, WRONG, "127.0.0.2")[0] for _ in range(12)]
    assert 429 in tries  # the pauses of one guesser have begun
    assert sign_in(front, teacher, WRONG, "127.0.0.3")[0] == 200  # another is just told


def test_serve_says_that_no_proxy_is_named(tmp_path: Path) -> None:
    with house(tmp_path, BENCHLEDGER_TLS="1") as one:
        done = one.manage("serve", "--port", str(one.port))
    assert done.returncode == 2
    assert "BENCHLEDGER_PROXIES" in done.stderr
    assert "Traceback" not in done.stderr
