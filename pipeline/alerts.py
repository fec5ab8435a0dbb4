"""What an operator must hear of: a file in out/alerts/ as long as it lasts, and a word by mail or webhook when it begins.

Nothing is sent unless [night.mail] in programme.toml or the environment says where to. What must not be read by others
stands in the environment alone: WRACKLINE_MAIL_USER, WRACKLINE_MAIL_PASSWORD, and WRACKLINE_WEBHOOK, an address to
which JSON is posted. WRACKLINE_MAIL_TO names receivers (parted by commas) instead of programme.toml, which is kept in
the ledger for ever. This is the only module that may reach a network.
"""

import json
import os
import smtplib
import ssl
import urllib.request
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from email.message import EmailMessage
from pathlib import Path
from urllib.parse import urlsplit

from pipeline import disk
from pipeline.errors import Hindered
from pipeline.programme import Rules, open_programme
from pipeline.rules.night import Mail

FOLDER = "alerts"
PATIENCE_S = 20.0
HERE = ("127.0.0.1", "localhost", "::1")  # a relay on the same machine needs no encryption

Say = Callable[[str], None]


def settle(root: Path, name: str, text: str, say: Say, env: Mapping[str, str] = os.environ) -> None:
    """Let the alert of that name stand with this text, or fall when the text is "".

    Who is to be told is told when it begins or changes, not every night. What cannot be sent or written is said and
    stops nothing: a full disk must not keep the word back that the disk is full.
    """
    path = open_programme(root).places.out / FOLDER / f"{name}.txt"
    before = ""
    with suppress(OSError):
        before = path.read_text()
    if text == before:
        return
    if not text:
        disk.remove(path)
        return
    try:
        disk.make_folder(path.parent)
        disk.replace(path, text.encode())
    except OSError as e:
        say(f"The alert could not be written ({e.strerror}): {text.strip()}")
    rules = open_programme(root).rules
    for way, send in (("mail", _mail), ("webhook", _post)):
        try:
            if send(rules, name, text, env):
                say(f"The alert {name} was told by {way}.")
        except (OSError, smtplib.SMTPException, ValueError, Hindered) as e:
            say(f"The alert {name} could not be told by {way}: {type(e).__name__}: {e}")


def standing(root: Path) -> dict[str, str]:
    """The alerts that stand, by name."""
    found = sorted((open_programme(root).places.out / FOLDER).glob("*.txt"))
    return {p.stem: p.read_text() for p in found}


def _mail(rules: Rules, name: str, text: str, env: Mapping[str, str]) -> bool:
    mail = rules.night.mail
    to = [a.strip() for a in env.get("WRACKLINE_MAIL_TO", "").split(",") if a.strip()] or list(mail.to)
    if not (mail.host and to):
        return False
    message = EmailMessage()
    message["From"], message["To"] = mail.sender, ", ".join(to)
    message["Subject"] = f"{' '.join(rules.name.split())}: {name.replace('_', ' ')}"
    message.set_content(text)
    with _connected(mail) as server:
        user, password = env.get("WRACKLINE_MAIL_USER", ""), env.get("WRACKLINE_MAIL_PASSWORD", "")
        if user:
            if mail.security == "none" and mail.host not in HERE:
                raise Hindered("a password is not sent without encryption; let `security` be starttls or tls")
            server.login(user, password)
        server.send_message(message)
    return True


@contextmanager
def _connected(mail: Mail) -> Iterator[smtplib.SMTP]:
    secure = ssl.create_default_context()
    if mail.security == "tls":
        with smtplib.SMTP_SSL(mail.host, mail.port, timeout=PATIENCE_S, context=secure) as server:
            yield server
        return
    with smtplib.SMTP(mail.host, mail.port, timeout=PATIENCE_S) as server:
        if mail.security == "starttls":
            server.starttls(context=secure)
        yield server


class _NoRedirects(urllib.request.HTTPRedirectHandler):
    """An answer that sends us elsewhere is a fault: nothing is posted to an address that nobody configured."""

    def redirect_request(self, *_args: object, **_more: object) -> None:
        """Follow none."""


def _post(rules: Rules, name: str, text: str, env: Mapping[str, str]) -> bool:
    address = env.get("WRACKLINE_WEBHOOK", "")
    if not address:
        return False
    parts = urlsplit(address)
    if parts.scheme != "https" and not (parts.scheme == "http" and parts.hostname in HERE):
        raise ValueError("WRACKLINE_WEBHOOK must begin with https://")
    told = json.dumps({"programme": rules.key, "alert": name, "text": text}, ensure_ascii=False).encode()
    asked = urllib.request.Request(address, data=told, headers={"Content-Type": "application/json"})  # noqa: S310 - looked at above
    with urllib.request.build_opener(_NoRedirects).open(asked, timeout=PATIENCE_S):
        return True
