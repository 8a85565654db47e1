"""The six ways by which people are reached most, and the address that follows from a few answers.

The address is one of apprise, which knows some hundred services more; those are given as a whole address.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from urllib.parse import quote

from monitor.errors import UsageError

_MAIL = re.compile(r"[^@\s]+@[^@\s]+\.[^@\s]+")
_HOST = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?(:\d{1,5})?")
_PHONE = re.compile(r"\+\d{8,15}")
_TELEGRAM = re.compile(r"(bot)?\d{6,12}:[A-Za-z0-9_-]{30,}")
SSL_PORT = "465"


def mail_address(written: str) -> str:
    """An e-mail address."""
    text = written.strip()
    if not _MAIL.fullmatch(text):
        raise UsageError('"{written}" is no e-mail address; allowed: name@provider.example', written=written)
    return text


def server(written: str) -> str:
    """A computer by name or address, with or without a port."""
    text = written.strip().rstrip("/")
    if not _HOST.fullmatch(text):
        raise UsageError(
            '"{written}" is no name of a computer; allowed: mail.example, or mail.example:587',
            written=written,
        )
    return text


def phone(written: str) -> str:
    """A telephone number with the code of its country."""
    text = re.sub(r"[\s().-]", "", written)
    text = f"+{text[2:]}" if text.startswith("00") else text
    if not _PHONE.fullmatch(text):
        raise UsageError(
            '"{written}" is no telephone number with the code of its country; allowed: +267 71 234 567',
            written=written,
        )
    return text


def secret(written: str) -> str:
    """Anything that is not empty."""
    if not written.strip():
        raise UsageError("it is needed: without it no message can go out this way")
    return written.strip()


def telegram_token(written: str) -> str:
    """The token of a bot."""
    if not _TELEGRAM.fullmatch(written.strip()):
        raise UsageError(
            "that is no token of a bot; it looks like 123456789:AAE... (a number, a colon, a key)"
        )
    return written.strip().removeprefix("bot")


def chat(written: str) -> str:
    """The number of a chat."""
    if not re.fullmatch(r"-?\d{5,15}", written.strip()):
        raise UsageError(
            '"{written}" is no number of a chat; allowed: digits, such as 12315544', written=written
        )
    return written.strip()


def topic(written: str) -> str:
    """A name to which a phone subscribes."""
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,64}", written.strip()):
        raise UsageError(
            '"{written}" is no topic; allowed: letters, digits, dashes, underscores, 64 at most',
            written=written,
        )
    return written.strip()


@dataclass(frozen=True, slots=True)
class Asked:
    """One thing to ask: its name (the question is `init.ask_NAME`), how it is read, the worked example.

    `default` may name an earlier answer in braces; a secret is not shown while it is typed.
    """

    name: str
    read: Callable[[str], str]
    example: str
    default: str = ""
    is_secret: bool = False


@dataclass(frozen=True, slots=True)
class ContactWay:
    """One way: what to ask, and the address with the answers in braces."""

    name: str
    asked: tuple[Asked, ...]
    form: str

    def address(self, answers: Mapping[str, str]) -> str:
        """The apprise address for the answers, with whatever stands in them made safe."""
        safe = {name: quote(value, safe="+:" if name in _PLAIN else "") for name, value in answers.items()}
        mode = "ssl" if answers.get("mail_server", "").endswith(f":{SSL_PORT}") else "starttls"
        return self.form.format(**safe, mode=mode)

    @property
    def example(self) -> str:
        """The address for the worked examples."""
        return self.address({each.name: each.example for each in self.asked})


_PLAIN = frozenset(
    {"mail_server", "push_server", "gateway", "token", "chat", "phone_from", "phone_to", "topic"}
)


def mail_server(written: str) -> str:
    """A mail server with its port, 587 where none is given."""
    text = server(written)
    return text if ":" in text else f"{text}:587"


def suggested_topic() -> str:
    """A topic that nobody guesses: whoever knows it reads the messages."""
    return f"rearing-{secrets.token_hex(5)}"


_PHONE_TO = Asked("phone_to", phone, "+26772345678")
WAYS = (
    ContactWay(
        "mail",
        (
            Asked("mail_to", mail_address, "keeper@farm.example"),
            Asked("mail_server", mail_server, "smtp.farm.example:587"),
            Asked("mail_user", secret, "keeper@farm.example", "{mail_to}"),
            Asked("mail_password", secret, "app-password", is_secret=True),
        ),
        "mailtos://{mail_user}:{mail_password}@{mail_server}/?from={mail_to}&to={mail_to}&mode={mode}",
    ),
    ContactWay(
        "push",
        (
            Asked("push_server", server, "ntfy.sh", "ntfy.sh"),
            Asked("topic", topic, "rearing-3f9a1c2b7d", "new"),
        ),
        "ntfys://{push_server}/{topic}",
    ),
    ContactWay(
        "telegram",
        (
            Asked("token", telegram_token, "123456789:AAEabcdefghijklmnopqrstuvwxyz0123456", is_secret=True),
            Asked("chat", chat, "12315544"),
        ),
        "tgram://{token}/{chat}",
    ),
    ContactWay(
        "signal",
        (
            Asked("gateway", server, "127.0.0.1:8080", "127.0.0.1:8080"),
            Asked("phone_from", phone, "+26771234567"),
            _PHONE_TO,
        ),
        "signal://{gateway}/{phone_from}/{phone_to}",
    ),
    ContactWay(
        "sms",
        (
            Asked("sms_account", secret, "AC" + "0123456789abcdef" * 2),
            Asked("sms_key", secret, "fedcba9876543210" * 2, is_secret=True),
            Asked("phone_from", phone, "+26771234567"),
            _PHONE_TO,
        ),
        "twilio://{sms_account}:{sms_key}@{phone_from}/{phone_to}",
    ),
    ContactWay(
        "whatsapp",
        (
            Asked("whatsapp_key", secret, "EAAGabcdefghijklmnopq", is_secret=True),
            Asked("whatsapp_sender", secret, "123456789012345"),
            _PHONE_TO,
        ),
        "whatsapp://{whatsapp_key}@{whatsapp_sender}/{phone_to}",
    ),
)
