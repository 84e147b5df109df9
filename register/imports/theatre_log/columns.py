"""The columns of a theatre log."""

from typing import Final

from register.imports import cells
from register.imports.column import DAY, Column, taken
from register.models import TheatreLogEntry

COLUMNS: Final[tuple[Column, ...]] = (
    taken(TheatreLogEntry, "performed_on", "Date", DAY, example="04 Mar 2027", needed=True),
    taken(TheatreLogEntry, "reference", "Reference", "The log’s own number of the line. By it "
        "a line that was corrected is known again.", read=cells.identifier(40),
        example="2027-0412"),
    taken(TheatreLogEntry, "hospital_number", "Hospital number", "Kept as text, with its zeros "
        "in front. It or the NHS Number is needed in each row.", read=cells.identifier(24),
        example="H104711"),
    taken(TheatreLogEntry, "nhs_number", "NHS Number", "Ten digits; spaces and dashes may stand "
        "between.", read=cells.nhs_number, example="999 000 0018"),
    taken(TheatreLogEntry, "family_name", "Family name", "", example="Ashbeck"),
    taken(TheatreLogEntry, "given_name", "Given name", "", example="Maud"),
    taken(TheatreLogEntry, "procedure_words", "Procedure", "In the words of the log.",
        example="Cement augmentation L1", needed=True),
    taken(TheatreLogEntry, "procedure_code", "Code", "As the hospital codes it.",
        read=cells.identifier(24)),
    taken(TheatreLogEntry, "operator_words", "Operator", ""),
)  # fmt: skip
NAMES: Final = {column.field: column.name for column in COLUMNS}
