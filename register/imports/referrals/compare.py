"""How a row differs from what the register holds, in words with both values."""

from collections.abc import Collection, Iterable, Mapping
from datetime import date
from typing import Any, Final

from register.domain import vocabulary as v
from register.domain.days import NOT_RECORDED, day_words, known_words
from register.domain.nhs_number import formatted
from register.imports.referrals.columns import COLUMNS
from register.imports.referrals.known import KnownPatient, KnownReferral, same_name
from register.imports.referrals.rows import ReferralRow

_NAMES: Final = {(c.part, c.field): c.name for c in COLUMNS}
_VOCABULARIES: Final[dict[str, v.Words]] = {
    "sex": v.SEX,
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
_IDENTITY: Final = ("family_name", "given_name", "date_of_birth", "hospital_number")


def identity_conflicts(row: ReferralRow, patient: KnownPatient) -> list[str]:
    """Return why a row cannot mean this patient although a number fits."""
    values = patient.values
    if patient.set_aside:
        return ["These numbers belong to a record that was set aside. Enter this patient by hand."]
    found = [name for name in _IDENTITY if not _agrees(name, row.patient[name], values[name])]
    for name in ("nhs_number", "sex"):
        given = row.patient.get(name, "")
        if given and values[name] and given != values[name]:
            found.append(name)
    conflicts = [
        _both(_NAMES["patient", name], row.patient[name], values[name], name) for name in found
    ]
    died, referred = values["date_of_death"], row.referral["referred_on"]
    if died is not None and referred > died:
        conflicts.append(f"The register says that this patient died on {day_words(died)}.")
    return conflicts


def referral_differences(
    row: ReferralRow, recorded: KnownReferral, patient: KnownPatient
) -> list[str]:
    """Return where a row differs from a recorded referral; what it leaves blank never differs."""
    found = [
        _both(_NAMES["referral", name], value, recorded.values[name], name)
        for name, value in row.referral.items()
        if name not in ("absent", "takes_antithrombotics", "onset_precision")
        and value != recorded.values[name]
    ]
    given, there = row.referral.get("onset_precision"), recorded.values["onset_precision"]
    if given and given != there and row.referral["onset_on"] == recorded.values["onset_on"]:
        found.append(_both("Exactness of the onset date", given, there, "onset_precision"))
    found += _absent_differences(row.referral, recorded.values, "referral")
    takes = row.referral.get("takes_antithrombotics")
    if takes is not None and (
        takes != recorded.values["takes_antithrombotics"] or set(row.drugs) != recorded.drugs
    ):
        theirs = recorded.drugs or recorded.values["takes_antithrombotics"]
        found.append(_both("Blood thinners", row.drugs, theirs, "drugs"))
    for level in row.levels:
        found += _level_differences(row, level, recorded)
    found += [
        f"{_NAMES['laboratory', analyte]}: {value} of {day_words(row.taken_on)} is not recorded."
        for analyte, value in row.laboratory.items()
        if (analyte, row.taken_on, value) not in patient.laboratory
    ]
    return found


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


def contact_not_taken_over(
    row: ReferralRow, recorded: Mapping[str, Any], phones: Collection[str]
) -> tuple[str, ...]:
    """Return what a row says about a known patient that an import does not change."""
    names = [
        _NAMES["patient", name]
        for name, value in row.patient.items()
        if name not in (*_IDENTITY, "absent") and value != recorded.get(name, "")
    ]
    if row.phone and row.phone not in phones:
        names.append(_NAMES["phone", "number"])
    if not names:
        return ()
    return (f"Not taken over for a known patient: {', '.join(names)}. Change it on the record.",)


def _level_differences(row: ReferralRow, level: str, recorded: KnownReferral) -> list[str]:
    fracture = recorded.levels.get(level)
    if fracture is None:
        return [f"Levels: {level} is not part of the recorded referral."]
    found = [
        f"{level}: {_both(_NAMES['fracture', name], value, fracture.values[name], name)}"
        for name, value in row.fracture.items()
        if name != "absent" and value != fracture.values[name]
    ]
    return found + [
        f"{level}: {words}"
        for words in _absent_differences(row.fracture, fracture.values, "fracture")
    ]


def _absent_differences(given: Any, there: Any, part: str) -> list[str]:
    """Return reasons for no value that the register does not hold in the same way."""
    reasons = dict(v.ABSENT)
    found = []
    for name, reason in given.get("absent", {}).items():
        recorded = there["absent"].get(name, "")
        if recorded != reason:
            column = _NAMES.get((part, name)) or _NAMES["drugs", name]
            shown = reasons.get(recorded) or said(name, there[name])
            found.append(f"{column}: the file says “{reasons[reason]}”, the register “{shown}”.")
    return found


def _agrees(name: str, given: Any, there: Any) -> bool:
    if name in ("family_name", "given_name"):
        return same_name(given, there)
    if name == "hospital_number":
        return bool(given.casefold() == there.casefold())
    return bool(given == there)


def _both(column: str, given: Any, there: Any, name: str) -> str:
    return f"{column}: the file says {said(name, given)}, the register {said(name, there)}."


def said(name: str, value: Any) -> str:
    """Return a value as pages print it."""
    if value is None or value == "" or (value == [] and name != "drugs"):
        return NOT_RECORDED
    if name == "drugs":
        return _drugs_said(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, date):
        return day_words(value)
    if name == "nhs_number":
        return formatted(value)
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


def levels_said(levels: Iterable[str]) -> str:
    """Return levels as one text."""
    return ", ".join(levels)
