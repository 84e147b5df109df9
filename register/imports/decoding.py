"""From the bytes of a file to its text, without guessing in silence.

UTF-8 proves itself: other codes do not happen to be right UTF-8. UTF-16 has a mark,
or blanks that no other code has. Windows-1252 proves nothing, so whoever sent the
file is shown the words that depend on it and has to say that they are right.
"""

import re
from typing import Final

UTF8_MARK: Final = b"\xef\xbb\xbf"
_UTF16_MARKS: Final = (b"\xff\xfe", b"\xfe\xff")
# The codes that a person may declare, with the words for them; '' is to find out.
CODE_PAGES: Final = {
    "": "find out",
    "utf-8": "UTF-8",
    "utf-16": "UTF-16",
    "cp1252": "Windows-1252 (Western Europe)",
}
_SAVE_AS: Final = "In the spreadsheet program choose “Save as”, “CSV UTF-8”, and send that file."
_ANOTHER: Final = "Choose another code page, or let it be found out."
_NO_TEXT: Final = f"The file does not hold plain text. {_SAVE_AS}"
# Signs that no table holds: what is left when other data are taken for text.
_NO_SIGNS: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_WORD: Final = re.compile(r"[^\s;,|\"]*[^\x00-\x7f\s;,|\"][^\s;,|\"]*")


class FileRefused(Exception):
    """The file as a whole cannot be read; the message says why and what to do."""


def text_of(content: bytes, code_page: str = "") -> tuple[str, str]:
    """Return the text of a CSV file and the code page it was read in.

    `code_page` is a key of CODE_PAGES. Raises FileRefused when the bytes do not fit it,
    or when nothing tells what they are.
    """
    if content.startswith(b"%PDF"):
        raise FileRefused(f"This is a PDF, not a table. {_SAVE_AS}")
    if not content.strip():
        raise FileRefused("The file is empty. Choose the file again.")
    text, found = _declared(content, code_page) if code_page else _found(content)
    if not text.strip():
        raise FileRefused("The file is empty. Choose the file again.")
    if _NO_SIGNS.search(text):
        raise FileRefused(_NO_TEXT)
    return text, found


def _declared(content: bytes, code_page: str) -> tuple[str, str]:
    if code_page == "utf-16":
        codec = "utf-16" if content.startswith(_UTF16_MARKS) else _unmarked_utf16(content)
        if not codec:
            raise FileRefused(f"The file is not in UTF-16. {_ANOTHER}")
    else:
        codec = {"utf-8": "utf-8-sig"}.get(code_page, code_page)
    try:
        return content.decode(codec), code_page
    except UnicodeDecodeError as error:
        raise FileRefused(
            f"Line {_line(content, error)} does not fit {CODE_PAGES[code_page]}. {_ANOTHER}"
        ) from error


def _found(content: bytes) -> tuple[str, str]:
    codec = "utf-16" if content.startswith(_UTF16_MARKS) else _unmarked_utf16(content)
    try:
        return content.decode(codec or "utf-8-sig"), "utf-16" if codec else "utf-8"
    except UnicodeDecodeError as error:
        line = _line(content, error)
    try:
        text = content.decode("cp1252") if not codec and b"\x00" not in content else ""
    except UnicodeDecodeError:
        text = ""
    # A file that is UTF-8 elsewhere is damaged UTF-8: as Windows-1252 it would be mojibake.
    if not text or any(map(looks_damaged, non_english(text))):
        raise FileRefused(
            f"Line {line} holds letters in an unknown code, so names could be changed. {_SAVE_AS}"
        )
    return text, "cp1252"


def _unmarked_utf16(content: bytes) -> str:
    """Return utf-16-le or -be when every sign of the first line says so; '' otherwise."""
    for codec, high, low in (("utf-16-le", 1, 0), ("utf-16-be", 0, 1)):
        head = content[: 2 * max(1, len(content) // 2)][:4000]
        line = head.split("\n".encode(codec))[0]
        line = line[: len(line) // 2 * 2]
        if line and not any(line[high::2]) and all(line[low::2]) and len(content) % 2 == 0:
            return codec
    return ""


def _line(content: bytes, error: UnicodeDecodeError) -> int:
    return content[: error.start].count(b"\n") + 1


def non_english(text: str) -> list[str]:
    """Return the different words of a text that hold other letters than a to z, in order."""
    return list(dict.fromkeys(_WORD.findall(text)))


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
