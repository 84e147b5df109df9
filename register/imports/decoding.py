"""From the bytes of a file to its text, without guessing."""

from typing import Final

UTF8_MARK: Final = b"\xef\xbb\xbf"
_UTF16_MARKS: Final = (b"\xff\xfe", b"\xfe\xff")
# First bytes of files that are sent in by mistake.
_NOT_TEXT: Final = {
    b"PK\x03\x04": "a workbook",
    b"\xd0\xcf\x11\xe0": "an old workbook",
    b"%PDF": "a PDF",
}
_SAVE_AS: Final = "In the spreadsheet program choose “Save as”, “CSV UTF-8”, and send that file."
_NO_TEXT: Final = f"The file does not hold plain text. {_SAVE_AS}"


class FileRefused(Exception):
    """The file as a whole cannot be read; the message says why and what to do."""


def text_of(content: bytes) -> str:
    """Return the text of a CSV file in UTF-8 (with or without mark) or UTF-16 (with mark).

    Raises FileRefused for anything else: a wrong guess would change letters in
    names without anybody noticing.
    """
    for start, kind in _NOT_TEXT.items():
        if content.startswith(start):
            raise FileRefused(f"This is {kind}, not a CSV file. {_SAVE_AS}")
    text = _decoded(content)
    if not text.strip():
        raise FileRefused("The file is empty. Choose the file again.")
    if "\x00" in text:
        raise FileRefused(_NO_TEXT)
    return text


def _decoded(content: bytes) -> str:
    encoding = "utf-16" if content.startswith(_UTF16_MARKS) else "utf-8-sig"
    if encoding == "utf-8-sig" and b"\x00" in content:
        raise FileRefused(_NO_TEXT)
    try:
        return content.decode(encoding)
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise FileRefused(
            f"Line {line} holds letters in an unknown code, so names could be changed. {_SAVE_AS}"
        ) from error


def looks_damaged(text: str) -> str:
    """Return how a text most likely read before its letters were damaged; '' when it looks whole.

    `Zoë` saved in one code and opened in another becomes `ZoÃ«`, which is a proper
    text of its own: only turning it back shows it. A replacement sign has no way back.
    """
    if "\ufffd" in text:
        return text.replace("\ufffd", "?")
    if text.isascii():
        return ""
    try:
        before = text.encode("cp1252").decode("utf-8")
    except UnicodeError:
        return ""
    return before if before != text else ""
