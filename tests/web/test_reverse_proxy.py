"""HTTPS by a reverse proxy as the README says it: nginx in front, with a certificate."""

from __future__ import annotations

import re
import socket
import ssl
import subprocess
import time
from collections.abc import Iterator
from http.client import HTTPSConnection
from pathlib import Path
from urllib.parse import urlencode

import pytest

from fruitcast.web.access import AccessFile
from tests.requires import need_program
from tests.web.servers import running
from tests.web.sites import PASSPHRASE, write_site

NAME = "larkspur.example"

README = Path(__file__).parents[2] / "README.md"

SITE = """
server {
    listen 443 ssl; server_name yard.example.org;
    ssl_certificate /etc/ssl/yard.pem; ssl_certificate_key /etc/ssl/yard.key;
    client_max_body_size 64k;
    location / {
        proxy_pass http://127.0.0.1:8765;
        proxy_set_header Host $host; proxy_set_header X-Forwarded-Host $host;
        proxy_set_header X-Forwarded-For $remote_addr; proxy_set_header X-Forwarded-Proto $scheme;
    }
}
"""
"""What the README has people write into nginx's folder of sites."""

AROUND = """
daemon off;
pid {root}/nginx.pid;
error_log {root}/error.log;
events {{ worker_connections 64; }}
http {{
    access_log off;
    client_body_temp_path {root}/body;
    proxy_temp_path {root}/proxy;
    fastcgi_temp_path {root}/fastcgi;
    uwsgi_temp_path {root}/uwsgi;
    scgi_temp_path {root}/scgi;
    {site}
}}
"""


@pytest.fixture(scope="module")
def proxy(tmp_path_factory) -> Iterator[tuple[int, Path]]:
    """Yield the port of a proxy in front of a server of the small yard, and its certificate."""
    nginx, openssl = need_program("nginx"), need_program("openssl")
    root = tmp_path_factory.mktemp("nginx")
    folder = write_site(root / "yard")
    AccessFile(folder).set_passphrase(PASSPHRASE)
    subprocess.run(
        [
            *(openssl, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"),
            *("-subj", f"/CN={NAME}", "-addext", f"subjectAltName=DNS:{NAME}"),
            *("-keyout", str(root / "yard.key"), "-out", str(root / "yard.pem")),
        ],
        check=True,
        capture_output=True,
    )
    with running(folder, "--proxy", "127.0.0.1", "--name", NAME) as server:
        port = _free_port()
        site = (
            SITE.replace("listen 443", f"listen 127.0.0.1:{port}")
            .replace("yard.example.org", NAME)
            .replace("/etc/ssl", str(root))
            .replace("127.0.0.1:8765", f"127.0.0.1:{server.port}")
        )
        (root / "nginx.conf").write_text(AROUND.format(root=root, site=site))
        process = subprocess.Popen(
            [nginx, "-c", str(root / "nginx.conf"), "-e", str(root / "error.log")],
            stderr=subprocess.PIPE,
        )
        try:
            _wait_for(port, process)
            yield port, root / "yard.pem"
        finally:
            process.terminate()
            process.communicate(timeout=20)


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        return int(taken.getsockname()[1])


def _wait_for(port: int, process: subprocess.Popen[bytes]) -> None:
    end = time.monotonic() + 20
    while time.monotonic() < end:
        assert process.poll() is None, process.communicate()[1]
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            time.sleep(0.05)
        else:
            return
    pytest.fail("nginx does not listen")


class OverHttps(HTTPSConnection):
    """A connection to the proxy as to the name in its certificate."""

    def __init__(self, port: int, certificate: Path) -> None:
        context = ssl.create_default_context(cafile=str(certificate))
        super().__init__(NAME, 443, context=context, timeout=30)
        self._port = port

    def connect(self) -> None:
        plain = socket.create_connection(("127.0.0.1", self._port), timeout=30)
        self.sock = self._context.wrap_socket(plain, server_hostname=NAME)


def test_the_whole_way_through_the_proxy(proxy):
    connection = OverHttps(*proxy)
    connection.request("GET", "/")
    answer = connection.getresponse()
    answer.read()
    assert (answer.status, answer.headers["Location"]) == (303, "/signin?next=/")
    connection.request("GET", "/signin")
    answer = connection.getresponse()
    page = answer.read().decode()
    cookie = answer.headers["Set-Cookie"]
    assert "Secure" in cookie and "HttpOnly" in cookie and "SameSite=Strict" in cookie
    token = re.search(r'name="token" value="([^"]+)"', page)[1]
    body = urlencode({"token": token, "passphrase": PASSPHRASE, "next": "/calendar"})
    headers = {
        "Cookie": cookie.partition(";")[0],
        "Content-Type": "application/x-www-form-urlencoded",
        "Origin": f"https://{NAME}",
    }
    connection.request("POST", "/signin", body, headers)
    answer = connection.getresponse()
    answer.read()
    assert answer.status == 303
    kept = [given.partition(";")[0] for given in answer.headers.get_all("Set-Cookie") or ()]
    headers = {"Cookie": "; ".join(kept)}
    connection.request("GET", "/calendar", headers=headers)
    page = connection.getresponse().read().decode()
    address = re.search(rf"https://{NAME}(/feed/[\w-]+\.ics)", page)[1]
    assert f"webcal://{NAME}{address}" in page
    connection.request("GET", address)
    answer = connection.getresponse()
    assert answer.status == 200 and answer.read().startswith(b"BEGIN:VCALENDAR")
    tag = answer.headers["ETag"]
    connection.request("GET", address, headers={"If-None-Match": tag})
    answer = connection.getresponse()
    assert (answer.status, answer.read()) == (304, b"")


def test_over_https_a_phone_keeps_the_page_and_sends_what_waited(proxy, browser, tmp_path):
    from tests.browsers import ARGUMENTS
    from tests.web.test_browser_away import CHROMIUM

    port, _ = proxy
    rules = f"--host-resolver-rules=MAP {NAME}:443 127.0.0.1:{port}"
    phone = browser.browser_type.launch_persistent_context(
        str(tmp_path / "phone"),
        executable_path=CHROMIUM,
        args=(*ARGUMENTS, rules, "--ignore-certificate-errors"),
    )
    page = phone.new_page()
    page.goto(f"https://{NAME}/signin?next=/kept")
    page.get_by_label("Passphrase").fill(PASSPHRASE)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="How it works").wait_for()
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.evaluate(
        """waiting.add({uuid: crypto.randomUUID(), form: "words", stacks: [], told: "",
            fields: "words=note+the+gate", yes: [], state: "", reasons: [], tried: false,
            made: Date.now(), yard: document.body.dataset.yard})"""
    )
    page.get_by_role("link", name="Week", exact=True).click()
    page.goto(f"https://{NAME}/kept")
    page.get_by_text("the gate").wait_for()
    assert page.evaluate("waiting.all()") == []
    phone.close()


def test_each_sender_waits_for_its_own_wrong_tries(proxy):
    # All come through the proxy; were its address taken for theirs, one would lock out all.
    connection = OverHttps(*proxy)
    connection.request("GET", "/signin", headers={"X-Forwarded-For": "203.0.113.5"})
    answer = connection.getresponse()
    page = answer.read().decode()
    headers = {
        "Cookie": answer.headers["Set-Cookie"].partition(";")[0],
        "Content-Type": "application/x-www-form-urlencoded",
    }
    token = re.search(r'name="token" value="([^"]+)"', page)[1]
    statuses = []
    for number in range(7):
        body = urlencode({"token": token, "passphrase": f"wrong {number}"})
        headers["X-Forwarded-For"] = f"203.0.113.{number}"
        connection.request("POST", "/signin", body, headers)
        answer = connection.getresponse()
        answer.read()
        statuses.append(answer.status)
    assert statuses == [403] * 5 + [429] * 2, "a sender's own word for its address does not count"


def test_the_readme_shows_the_site_that_is_tried_here():
    if "proxy_pass" not in README.read_text(encoding="utf-8"):
        pytest.skip("the README does not speak of the proxy")
    shown = " ".join(README.read_text(encoding="utf-8").split())
    assert " ".join(SITE.split()) in shown
