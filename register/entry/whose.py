"""Whose record an address is about: found from the numbers in the address."""

from dataclasses import dataclass
from typing import Any, Final

from django.apps import apps
from django.urls import Resolver404, ResolverMatch, resolve

from register.models import Patient


@dataclass(frozen=True, slots=True)
class Kind:
    """A table whose rows belong to one patient, and the way to that patient."""

    model: str
    path: str


_KINDS: Final[dict[str, Kind]] = {}


def belongs(part: str, model: str, path: str) -> None:
    """Make known that a part of addresses names a row of one patient.

    `part` is the word in the address ("study_id"). Where one word means several
    tables, the name of the address or its `kind` stands before it:
    "planned-level:level_id", "leak:part_id". `path` leads from the row to the patient.
    """
    _KINDS[part] = Kind(model, path)


belongs("patient_id", "register.Patient", "pk")
belongs("referral_id", "register.Referral", "patient")
belongs("fracture_id", "register.Fracture", "patient")
belongs("study_id", "register.Study", "patient")
belongs("reading_id", "register.Reading", "study__patient")
belongs("series_id", "register.ImageSeries", "study__patient")
belongs("frame_id", "register.ImageFrame", "series__study__patient")
belongs("marking_id", "register.Marking", "reading__study__patient")
belongs("review_id", "register.Review", "patient")
belongs("result_id", "register.LaboratoryResult", "patient")
belongs("task_id", "register.Task", "patient")
belongs("procedure_id", "register.Procedure", "patient")
belongs("transfer_id", "register.RecordTransfer", "to_patient")


def kind_of(match: ResolverMatch) -> tuple[int, Kind] | None:
    """Return number and table of the patient's row that an address names; None without one."""
    for part, value in match.kwargs.items():
        for prefix in (f"{match.url_name}:", f"{match.kwargs.get('kind')}:", ""):
            kind = _KINDS.get(prefix + part)
            if kind is not None:
                return value, kind
    return None


def patient_of(match: ResolverMatch | None) -> Patient | None:
    """Return whose record an address is about as of now; None for a page about nobody."""
    found = kind_of(match) if match else None
    if found is None:
        return None
    number, kind = found
    model: Any = apps.get_model(kind.model)
    whose = model._base_manager.filter(pk=number).values(kind.path)
    return Patient._base_manager.filter(pk__in=whose).first()


def match_of(path: str) -> ResolverMatch | None:
    """Return what an address leads to; None for one that leads nowhere."""
    try:
        return resolve(path.partition("?")[0])
    except Resolver404:
        return None
