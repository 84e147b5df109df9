"""What the tests of the history share: an edit, and the words of a page."""

import re
from html import unescape

from register.history import acting
from register.services.editing import update_row


def change(row, user, reason="", **fields):
    with acting(user, reason):
        for name, value in fields.items():
            setattr(row, name, value)
        update_row(row, expected_version=row.version, fields=list(fields))


def text(answer):
    """The words of a page, without its tags."""
    words = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", unescape(words))
