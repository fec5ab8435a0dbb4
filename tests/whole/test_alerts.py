"""Alerts: a file as long as it lasts, a word by mail or webhook when it begins, and no network that nobody configured."""

import json
import socketserver
import threading
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest

from pipeline import alerts
from pipeline.errors import BadUsage
from pipeline.programme import parse_rules
from pipeline.starter import PROGRAMME, start

MAIL = '\n[night.mail]\nto = "lead@example.org"\nfrom = "wrackline@example.org"\nserver = "127.0.0.1:{port}"\nsecurity = "none"\n'


class Relay(socketserver.StreamRequestHandler):
    """A mail server that takes one letter and knows one password."""

    def handle(self):
        """Speak as little SMTP as it takes."""

        def say(text):
            self.wfile.write(text.encode() + b"\r\n")

        say("220 here")
        for line in iter(self.rfile.readline, b""):
            word = line.decode().strip()
            self.server.heard.append(word)
            if word.upper().startswith("EHLO"):
                say("250-here\r\n250 AUTH PLAIN")
            elif word.startswith("AUTH"):
                say("235 yes")
            elif word.upper() == "DATA":
                say("354 go on")
                for text in iter(self.rfile.readline, b".\r\n"):
                    self.server.heard.append(text.decode().rstrip())
                say("250 taken")
            elif word.upper() == "QUIT":
                say("221 bye")
                return
            else:
                say("250 yes")


class Hook(BaseHTTPRequestHandler):
    """A webhook that keeps what is posted; at /elsewhere it sends people on."""

    def do_POST(self):
        """Take it."""
        self.server.heard.append(self.rfile.read(int(self.headers["Content-Length"])))
        self.send_response(302 if self.path == "/elsewhere" else 200)
        if self.path == "/elsewhere":
            self.send_header("Location", "/")
        self.end_headers()

    def log_message(self, *args):
        """Say nothing."""


@contextmanager
def serving(kind, handler):
    """A server on this machine; gives its port and what it heard."""
    with kind(("127.0.0.1", 0), handler) as server:
        server.heard = []
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
        thread.start()
        try:
            yield server.server_address[1], server.heard
        finally:
            server.shutdown()
            thread.join()


@pytest.fixture
def root(tmp_path):
    """A new programme."""
    start(tmp_path / "p")
    return tmp_path / "p"


def test_an_alert_stands_while_it_lasts_and_is_told_once(root):
    """The file stands with its text; the webhook hears when it begins and when it changes, not every night; then it falls."""
    said = []
    with serving(HTTPServer, Hook) as (port, heard):
        env = {"WRACKLINE_WEBHOOK": f"http://127.0.0.1:{port}/"}
        for text in ("club is late\n", "club is late\n", "club and lab are late\n", ""):
            alerts.settle(root, "late", text, said.append, env)
            assert alerts.standing(root) == ({"late": text} if text else {})
    assert [json.loads(h)["text"] for h in heard] == ["club is late\n", "club and lab are late\n"]
    assert json.loads(heard[0]) == {"programme": "my-programme", "alert": "late", "text": "club is late\n"}
    assert said == ["The alert late was told by webhook."] * 2


def test_an_alert_goes_by_mail_with_the_password_of_the_environment(root):
    """Mail goes to whom programme.toml or the environment names, through the server named there, with the environment's password."""
    with serving(socketserver.TCPServer, Relay) as (port, heard):
        with (root / "programme.toml").open("a") as f:
            f.write(MAIL.format(port=port))
        env = {"WRACKLINE_MAIL_USER": "me", "WRACKLINE_MAIL_PASSWORD": "secret"}
        alerts.settle(root, "night_failed", "The disk is full.\n", [].append, env)
        alerts.settle(root, "other", "Too.\n", [].append, {"WRACKLINE_MAIL_TO": "a@example.org, b@example.org"})
    assert "Subject: My programme: night failed" in heard and "The disk is full." in heard
    assert any(h.startswith("AUTH PLAIN") for h in heard)
    assert [h for h in heard if h.lower().startswith("rcpt")] == [
        f"rcpt TO:<{who}@example.org>" for who in ("lead", "a", "b")
    ]


def test_what_cannot_be_sent_stops_nothing(root, monkeypatch):
    """A server that is not there, and a disk that is full, are said; the night goes on."""
    from pipeline import disk

    said = []
    with serving(HTTPServer, Hook) as (port, _):
        pass
    env = {"WRACKLINE_WEBHOOK": f"http://127.0.0.1:{port}/"}
    alerts.settle(root, "late", "club is late\n", said.append, env)
    assert "late could not be told by webhook" in said[0] and alerts.standing(root)

    def full(*args: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(disk, "replace", full)
    alerts.settle(root, "full", "The disk is full.\n", said.append, {})
    assert said[-1] == "The alert could not be written (No space left on device): The disk is full."


@pytest.mark.parametrize("address", ["http://hook.example.org/", "ftp://127.0.0.1/", "file:///etc/passwd"])
def test_nothing_is_posted_in_the_clear(root, address):
    """An address that is neither https nor on this machine is refused, and so is one that sends us elsewhere."""
    said = []
    alerts.settle(root, "late", "club is late\n", said.append, {"WRACKLINE_WEBHOOK": address})
    assert "must begin with https://" in said[0]


def test_a_webhook_that_sends_us_elsewhere_is_not_followed(root):
    """A redirect is a fault, and nothing is posted to where it leads."""
    said = []
    with serving(HTTPServer, Hook) as (port, heard):
        env = {"WRACKLINE_WEBHOOK": f"http://127.0.0.1:{port}/elsewhere"}
        alerts.settle(root, "late", "club is late\n", said.append, env)
    assert len(heard) == 1 and "could not be told by webhook: HTTPError" in said[0]


def test_a_password_is_not_sent_in_the_clear(root):
    """To a server elsewhere no password goes without encryption."""
    mail = parse_rules((PROGRAMME + MAIL.format(port=25).replace("127.0.0.1", "192.0.2.1")).encode()).night.mail
    assert mail.host == "192.0.2.1" and mail.host not in alerts.HERE and mail.security == "none"
    with pytest.raises(BadUsage, match=r"\[mail\].*mail.example.org:587"):
        parse_rules((PROGRAMME + '\n[night.mail]\nto = "a@example.org"\n').encode())


@pytest.mark.parametrize(
    ("toml", "told"),
    [
        ('[night]\nat = "3am"', "a time such as"),
        ("[night]\nhour = 3", "`hour` is not known"),
        ('[[partner_rhythm]]\npartner = "club"\nevery_days = 0\ndated = 2025-01-01', "at least 1 is wanted"),
        ('[[partner_rhythm]]\npartner = "club"\nevery_days = 9\ndated = 2025-01-01\n' * 2, "stands twice"),
    ],
)
def test_rules_of_nights_are_read_strictly(toml, told):
    """A rule of nights that is none is refused with what is wanted."""
    with pytest.raises(BadUsage, match=told):
        parse_rules((PROGRAMME + "\n" + toml + "\n").encode())
