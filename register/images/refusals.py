"""Why a file with pictures is not taken, or not shown: one code, one sentence for people."""

from dataclasses import dataclass
from typing import Final

from register.images.limits import (
    MOST_ANSWER,
    MOST_BYTES,
    MOST_FILES,
    MOST_FRAMES,
    MOST_TOGETHER,
    SECONDS,
)

_MB: Final = 1_000_000
_EXPORT: Final = "Export the examination from the picture archive again"
_UNCOMPRESSED: Final = f"{_EXPORT}, without compression, and send that."
_NO_PICTURE: Final = "Leave it out and send the pictures."

WORDS: Final = {
    # what was sent
    "empty": "The file is empty. Choose it again.",
    "large": (
        f"The file is larger than {MOST_BYTES // _MB} MB. Send the series as single pictures, "
        "or only the part that shows the spine."
    ),
    "many": f"Only {MOST_FILES:,} files are taken at a time. Send the others by themselves.",
    "together": (
        f"The files are more than {MOST_TOGETHER // _MB:,} MB together. Send the rest by itself."
    ),
    "name": (
        "Its name inside the packed file leads to another folder. "
        "Pack the pictures again from their own folder."
    ),
    "link": "This is a link to another file, not a picture. Pack the file itself.",
    "password": "It is protected by a password. Pack the files again without one.",
    "method": "It is packed in a way that cannot be unpacked here. Pack the files again as ZIP.",
    "bomb": (
        "It unpacks to far more than a picture does, which no archive writes. "
        f"{_EXPORT} and pack that."
    ),
    "inside": "This is a packed file inside a packed file. Unpack it and send what is in it.",
    "unpacking": "The packed file is damaged or not complete. Pack the files again.",
    "nothing": "The packed file holds no files. Choose another one.",
    # what is no picture
    "pdf": f"This is a PDF, not a picture that can be measured. {_EXPORT} as DICOM.",
    "video": "This is a film with moving pictures. Send the single picture that is to be measured.",
    "other_picture": "Pictures are read as DICOM, PNG or JPEG. Save it as one of these.",
    "packed": "Only ZIP is unpacked here. Unpack the file and send what is in it.",
    "program": f"The file begins like a program. {_EXPORT} and send that.",
    "other": f"This is no file with pictures. {_EXPORT}, as DICOM, PNG or JPEG.",
    # what the reader found
    "deflated": f"The whole file is packed (deflated), so its size cannot be trusted. {_EXPORT}.",
    "size": (
        f"The picture is {{at}} points large, more than the {MOST_ANSWER // _MB} MB that are "
        "shown here. Cut out the part with the spine and send that."
    ),
    "frames": (
        f"The file declares {{at}} pictures; at most {MOST_FRAMES:,} are read. Send the series "
        "in parts."
    ),
    "deep": f"Parts of the file are nested deeper than any scanner writes. {_EXPORT}.",
    "truncated": f"The file ends before its picture does. {_EXPORT} and send it again.",
    "damaged": f"The file is damaged, or not what it says that it is. {_EXPORT}.",
    "mislabelled": (
        f"The file says that its picture is stored as {{at}}, and it is stored otherwise. "
        f"{_EXPORT}."
    ),
    "document": f"This is a document packed as DICOM, not a picture. {_NO_PICTURE}",
    "report": f"This is a report, not a picture. {_NO_PICTURE}",
    "presentation": f"This tells how other pictures were shown, and holds none. {_NO_PICTURE}",
    "radiotherapy": f"This is a plan or a volume for radiotherapy, not a picture. {_NO_PICTURE}",
    "waveform": f"This is a recorded curve, not a picture. {_NO_PICTURE}",
    "directory": f"This is the list of contents of a disc, not a picture. {_NO_PICTURE}",
    "none": f"The file holds no picture. {_NO_PICTURE}",
    "one_bit": f"This is a mask of black and white points, not a picture. {_NO_PICTURE}",
    "float": "The picture is stored as fractions, which are not shown here. Send the original.",
    "bits": f"The points of the picture are stored in an unusual way ({{at}}). {_UNCOMPRESSED}",
    "colour": f"The colours of the picture are stored in an unusual way ({{at}}). {_UNCOMPRESSED}",
    "syntax": f"The picture is stored as {{at}}, which cannot be read here. {_UNCOMPRESSED}",
    "no_syntax": f"The file does not say how its picture is compressed. {_UNCOMPRESSED}",
    "twelve_bit": f"The picture is stored as JPEG with twelve bits. {_UNCOMPRESSED}",
    "frame": "The file has no picture of that number. Open the series again.",
    "limits": (
        f"Reading the file took more than {SECONDS} seconds or too much memory, so it was "
        f"stopped. {_UNCOMPRESSED}"
    ),
    # what has nothing to do with the file
    "reader": (
        "Pictures cannot be read on this computer at the moment; the file was not looked at. "
        "Tell the administrator, who finds the reason with “manage.py check --deploy”."
    ),
    "changed": (
        "The stored file is no longer the one that was sent, so it is not shown. "
        "Tell the administrator; it has to come back from a backup."
    ),
    "missing": (
        "The stored file is not where it was put. "
        "Tell the administrator; it has to come back from a backup."
    ),
}


@dataclass(frozen=True, slots=True)
class Refused:
    """One file that is not taken. `name` is as it was sent, to be shown and nothing else."""

    name: str
    code: str
    at: str = ""

    @property
    def words(self) -> str:
        """Why, and what to do."""
        return WORDS[self.code].format(at=self.at)


class ImageRefused(Exception):
    """A picture that cannot be shown; its text is for people and names nobody."""

    def __init__(self, code: str, at: str = "") -> None:
        super().__init__(WORDS[code].format(at=at))
        self.code, self.at = code, at
