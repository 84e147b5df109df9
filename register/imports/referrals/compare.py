"""How a row differs from what the register holds, in words with both values."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any, Final

from register.domain import vocabulary as v
from register.domain.days import NOT_RECORDED, day_words, known_words
from register.forms.dates import KnownDate
from register.imports.people import IDENTITY, identity_said
from register.imports.referrals.columns import COLUMNS
from register.imports.referrals.known import KnownFracture, KnownPatient, KnownReferral
from register.imports.referrals.rows import ReferralRow
from register.imports.weighing import Recorded, Weighed, weigh

_NAMES: Final = {(c.part, c.field): c.name for c in COLUMNS}
_VOCABULARIES: Final[dict[str, v.Words]] = {
    "source": v.REFERRAL_SOURCE,
    "onset_precision": v.DATE_PRECISION,
    "mechanism": v.MECHANISM,
    "pain_trend": v.PAIN_TREND,
    "analgesic_step": v.ANALGESIC_STEP,
    "failure_criteria": v.FAILURE_CRITERION,
    "mobility": v.MOBILITY,
    "neurology": v.NEUROLOGY,
    "asa_grade": v.ASA,
    "cancer_history": v.CANCER_HISTORY,
    "infection_state": v.INFECTION_STATE,
    "infection_signs": v.INFECTION_SIGN,
    "pregnancy": v.PREGNANCY,
}
# Taken over by no file, and told where the register does not know it.
_WHEN_GIVEN: Final = ("nhs_number", "sex")
_ONSET: Final = ("onset_on", "onset_precision")
_DRUGS: Final = ("takes_antithrombotics",)
_DRUGS_NAME: Final = _NAMES["drugs", "takes_antithrombotics"]


def contact_weighed(row: ReferralRow, patient: Recorded) -> Weighed:
    """Weigh address, practice and the like. What a person recorded is kept, never in conflict.

    A new address must not stop a new referral; that it was not taken over is told.
    """
    given = {n: value for n, value in row.patient.items() if n not in IDENTITY}
    reasons = row.patient.get("absent", {})
    given["absent"] = {n: why for n, why in reasons.items() if n not in _WHEN_GIVEN}
    found = weigh(patient, given, names=_names_of("patient"), said=said)
    found.kept += [f"{words} Change it on the record." for words in found.conflicts]
    found.kept += [
        f"{_NAMES['patient', name]}: {identity_said(name, row.patient[name])} is not taken over. "
        "A file never changes who somebody is: add it on the record."
        for name in _WHEN_GIVEN
        if row.patient.get(name) and not patient.values[name]
    ]
    found.conflicts = []
    return found


def referral_weighed(row: ReferralRow, recorded: KnownReferral) -> Weighed:
    """Weigh what a row says of the referral itself; its onset counts as one value."""
    given = {n: v for n, v in row.referral.items() if n not in ("referred_on", *_DRUGS)}
    if "onset_on" in given:
        given["onset_on"] = KnownDate(given["onset_on"], given.pop("onset_precision"))
    found = weigh(_with_onset(recorded), given, names=_names_of("referral"), said=said)
    if isinstance(onset := found.values.get("onset_on"), KnownDate):
        found.values |= {"onset_on": onset.on, "onset_precision": onset.precision}
    _weigh_drugs(row, recorded, found)
    return found


def _weigh_drugs(row: ReferralRow, recorded: KnownReferral, found: Weighed) -> None:
    """Fill the drugs where nothing is recorded; a list that differs is for a person."""
    takes, there = row.referral.get("takes_antithrombotics"), recorded.values[_DRUGS[0]]
    if takes is None or (takes == there and set(row.drugs) == recorded.drugs):
        return
    before = said("drugs", recorded.drugs or there)
    if there is not None or recorded.drugs or _DRUGS[0] in recorded.by_hand:
        found.conflicts.append(
            f"{_DRUGS_NAME}: the file says {said('drugs', row.drugs)}, recorded is {before}."
        )
        return
    reasons = found.values.get("absent", recorded.values["absent"])
    found.values[_DRUGS[0]] = takes
    found.values["absent"] = {n: why for n, why in reasons.items() if n != _DRUGS[0]}
    found.changes.append(f"{_DRUGS_NAME}: {before} → {said('drugs', row.drugs)}")


def level_weighed(
    row: ReferralRow, fracture: KnownFracture, *, onset: Mapping[str, Any]
) -> Weighed:
    """Weigh what a row says of one of its levels, whose onset may move at the same time."""
    moved = replace(fracture, values={**fracture.values, **onset})
    found = weigh(moved, row.fracture, names=_names_of("fracture"), said=said)
    for told in (found.changes, found.kept, found.conflicts):
        told[:] = [f"{fracture.level}: {words}" for words in told]
    return found


def onset_followed(
    recorded: KnownReferral, fracture: KnownFracture, changed: Mapping[str, Any]
) -> dict[str, Any]:
    """Return what a changed onset of the referral makes of a fracture that began with it."""
    former = [recorded.values[name] for name in _ONSET]
    if [fracture.values[name] for name in _ONSET] != former or "onset_on" in fracture.by_hand:
        return {}
    reasons = {n: why for n, why in fracture.values["absent"].items() if n != "onset_on"}
    if "onset_on" in changed:
        return {name: changed[name] for name in _ONSET} | {"absent": reasons}
    why = changed.get("absent", {}).get("onset_on")
    if why is None or fracture.values["onset_on"] is not None:
        return {}
    return {"absent": reasons | {"onset_on": why}}


def laboratory_weighed(row: ReferralRow, patient: KnownPatient) -> tuple[Weighed, list[str]]:
    """Return the told blood values, and the analytes to add: those without one of that day."""
    found, new = Weighed(), []
    for analyte, value in row.laboratory.items():
        of_day = [
            there
            for name, taken_on, there in patient.laboratory
            if name == analyte and taken_on == row.taken_on
        ]
        words = f"{_NAMES['laboratory', analyte]} of {day_words(row.taken_on)}"
        if not of_day:
            new.append(analyte)
            found.changes.append(f"{words}: {NOT_RECORDED} → {value}")
        elif value not in of_day:
            there = ", ".join(str(one) for one in sorted(of_day))
            found.conflicts.append(f"{words}: the file says {value}, recorded is {there}.")
    return found, new


def waiting_conflicts(row: ReferralRow, patient: KnownPatient) -> list[str]:
    """Return the levels of a row that are recorded already, from another referral."""
    found = []
    for fracture in patient.fractures:
        if fracture.level not in row.levels:
            continue
        same_onset = fracture.onset_on is not None and fracture.onset_on == row.referral.get(
            "onset_on"
        )
        if fracture.waits or same_onset:
            state = "is waiting already" if fracture.waits else "with this onset is recorded"
            found.append(
                f"{fracture.level} {state}, from the referral of "
                f"{day_words(fracture.referred_on)}. Add what is new to that referral by hand."
            )
    return found


def _names_of(part: str) -> dict[str, str]:
    """Return the words for the fields of one part; the drugs belong to the referral."""
    names = {name: words for (of, name), words in _NAMES.items() if of == part}
    return names | {_DRUGS[0]: _DRUGS_NAME} if part == "referral" else names


def _with_onset(recorded: KnownReferral) -> Recorded:
    """Return a referral with onset and exactness as one value."""
    on, precision = (recorded.values[name] for name in _ONSET)
    by_hand = recorded.by_hand
    if "onset_precision" in by_hand:
        by_hand |= {"onset_on"}
    onset = None if on is None else KnownDate(on, precision)
    values = {**recorded.values, "onset_on": onset}
    return Recorded(recorded.model, recorded.pk, recorded.version, values, by_hand)


def said(name: str, value: Any) -> str:
    """Return a value as pages print it."""
    if value is None or value == "" or (value == [] and name != "drugs"):
        return NOT_RECORDED
    if name == "drugs":
        return _drugs_said(value)
    if isinstance(value, KnownDate):
        return known_words(value.on, value.precision)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, date):
        return day_words(value)
    if isinstance(value, list):
        return ", ".join(v.words_for(_VOCABULARIES[name], code) for code in value)
    if name in _VOCABULARIES:
        return v.words_for(_VOCABULARIES[name], value)
    return str(value)


def _drugs_said(value: Any) -> str:
    if isinstance(value, bool):
        return "yes, not named" if value else "none"
    return "; ".join(sorted(_drug_said(drug, why) for drug, why in value)) or "none"


def _drug_said(drug: str, indication: str) -> str:
    words = v.words_for(v.ANTITHROMBOTIC, drug)
    why = v.words_for(v.ANTITHROMBOTIC_INDICATION, indication) if indication else ""
    return f"{words} ({why})" if why else words


def known_onset(row: ReferralRow) -> str:
    """Return the onset of a row no finer than it is given."""
    return known_words(row.referral.get("onset_on"), row.referral.get("onset_precision", ""))
