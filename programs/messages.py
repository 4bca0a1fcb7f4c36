"""How a message is put together: its headers, a text and an HTML of the same values, and the same bytes each time.

Headers: RFC 5322; Auto-Submitted (RFC 3834); Content-Language (RFC 3282). No line is longer than 998 octets.
"""

import hashlib
import re
from collections.abc import Sequence
from datetime import datetime
from email import policy
from email.errors import HeaderParseError, MessageError
from email.headerregistry import Address, HeaderRegistry, UnstructuredHeader
from email.message import EmailMessage
from email.utils import format_datetime
from typing import Any

import css_inline
from django.template.loader import render_to_string

from programs.sheet import one_line

#: HTML above this is cut off by some readers (octets).
LARGEST_HTML = 60 * 1024


class BadAddress(ValueError):
    """An address that no message can be sent to: not one mailbox of plain characters."""


class _WholeHeader(UnstructuredHeader):
    """A header that is never folded or encoded: a link folded by the library would come out as encoded words, which no
    reader takes for a link. Its value is ASCII and short by construction."""

    def fold(self, *, policy: Any) -> str:
        name: str = self.name  # type: ignore[attr-defined]  # the registry mixes it in with BaseHeader
        return f"{name}: {self}{policy.linesep}"


_registry = HeaderRegistry()
for _name in ("list-unsubscribe", "list-unsubscribe-post", "list-id"):
    _registry.map_to_type(_name, _WholeHeader)  # type: ignore[arg-type]  # as above
_POLICY = policy.SMTP.clone(header_factory=_registry)

_inliner = css_inline.CSSInliner(keep_style_tags=False, keep_at_rules=True, load_remote_stylesheets=False)


def begin(
    *,
    sender_name: str,
    sender: str,
    recipient: str,
    message_id: str,
    date: datetime,
    subject: str,
    reply_to: str,
) -> EmailMessage:
    """A message with its headers and nothing in it. Raises `BadAddress`."""
    message = EmailMessage(policy=_POLICY)
    message["From"] = mailbox(sender, sender_name)
    message["To"] = mailbox(recipient)
    if reply_to:
        message["Reply-To"] = mailbox(reply_to)
    message["Subject"] = one_line(subject, 200)
    message["Date"] = format_datetime(date)
    message["Message-ID"] = message_id
    message["Auto-Submitted"] = "auto-generated"
    return message


_NAMED = re.compile(r'\s*"?([^<>"]*?)"?\s*<([^<>]*)>\s*')
_ONE_MAILBOX = re.compile(r"[^\s@<>,;:\"()\[\]\\]+@[^\s@<>,;:\"()\[\]\\]+")
#: Characters that need quotation marks in a name (RFC 5322, 3.2.3). Python drops the marks when it folds a long name,
#: which would make two addresses of one, so the characters go instead.
_SPECIALS = str.maketrans(dict.fromkeys('()<>[]:;@\\,"', " "))


def mailbox(address: str, name: str = "") -> Address:
    """The address with the shown name: `name`, or the one that stands with the address. Raises `BadAddress`."""
    named = _NAMED.fullmatch(address)
    shown, spec = (named[1], named[2]) if named else ("", address)
    if not _ONE_MAILBOX.fullmatch(spec) or not spec.isascii():
        raise BadAddress("This is not the address of one mailbox.")
    try:
        return Address(display_name=one_line((name or shown).translate(_SPECIALS), 60), addr_spec=spec)
    except (MessageError, HeaderParseError, ValueError, IndexError) as broken:
        raise BadAddress("This is not the address of one mailbox.") from broken


def fill(message: EmailMessage, template: str, context: dict[str, Any], *, language: str) -> None:
    """The text and the HTML of the message, each a rendering of the same values."""
    context = {**context, "language": language}
    text = render_to_string(f"email/{template}.txt", context)
    html = _inliner.inline(render_to_string(f"email/{template}.html", context))
    message.set_content(_tidy(text), cte="quoted-printable")
    message.add_alternative(html, subtype="html", cte="quoted-printable")


def _tidy(text: str) -> str:
    """Template tags leave lines behind: at most one empty line in a row, none at the ends."""
    lines = [line.rstrip() for line in text.splitlines()]
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines)).strip() + "\n"


def fixed(message: EmailMessage, *, language: str) -> EmailMessage:
    """The message with the language that all of it is in, and with boundaries made from its Message-ID, so that the
    same message has the same bytes.

    The language comes last: headers that begin with Content go with a body that becomes a part.
    """
    del message["Content-Language"]
    message["Content-Language"] = language
    parts: Sequence[Any] = [part for part in message.walk() if part.is_multipart()]
    for number, part in enumerate(parts):
        seed = f"{message['Message-ID']}/{number}".encode()
        part.set_boundary(f"=-{hashlib.sha256(seed).hexdigest()[:40]}-{number}")
    return message
