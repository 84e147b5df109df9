"""From the values of a line of the file to what it says."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from register.imports.reading import Values

# What a line says of the patient, in fields of Patient.
WHO: Final = ("hospital_number", "nhs_number", "family_name", "given_name")
_KEY: Final = ("performed_on", "hospital_number", "nhs_number", "procedure_words", "procedure_code")


@dataclass(frozen=True, slots=True)
class LogRow:
    """What one line says: the fields of TheatreLogEntry that it gives, and no others."""

    number: int
    values: Mapping[str, Any]

    @property
    def reference(self) -> str:
        """The log's own number of the line as it is compared; '' without one."""
        return reference_of(self.values)

    @property
    def key(self) -> tuple[str, ...]:
        """By what a line without reference is known again."""
        return key_of(self.values)


def reference_of(values: Mapping[str, Any]) -> str:
    """Return a reference as it is compared, as lower() of the database has it; '' without one."""
    return str(values.get("reference", "")).lower()


def key_of(values: Mapping[str, Any]) -> tuple[str, ...]:
    """Return day, patient and procedure of a line as they are compared."""
    return tuple(str(values.get(name, "")).casefold() for name in _KEY)


def contradictions(values: Values) -> list[str]:
    """Return what is wrong with a row as a whole: it must say whose operation it was."""
    if any(field in ("hospital_number", "nhs_number") for _, field in values):
        return []
    return ["Hospital number and NHS Number are empty. One of them is needed."]


def row_of(number: int, values: Values) -> LogRow:
    """Return a row by the fields of its columns."""
    return LogRow(number, {field: value for (_, field), value in values.items()})
