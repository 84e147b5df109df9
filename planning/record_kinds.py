"""Every kind of record that belongs to a patient, described once for the history.

A test asks for an entry of each table that leads to a patient, or for its reason below.
"""

from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any, Final

from planning.forms.approach import ApproachForm
from planning.forms.plans import PlanForm, PlannedLevelForm
from planning.forms.procedures import (
    CementForm,
    ComplicationForm,
    ImplantForm,
    LeakForm,
    ProcedureForm,
    TreatedLevelForm,
)
from planning.models import (
    Assessment,
    Decision,
    ListEntry,
    PlannedApproach,
    PlannedLevel,
    ProcedurePlan,
    TheatreSession,
)
from register.domain.days import day_words
from register.domain.scores import INSTRUMENTS
from register.domain.vocabulary import (
    ANTITHROMBOTIC,
    ATTEMPT_OUTCOME,
    COMPLICATION,
    INSTRUMENT,
    LAB_ANALYTE,
    MARK_VIEW,
    MODALITY,
    PLANE,
    SIDE,
    TRANSFER_KIND,
)
from register.forms.imaging import MeasurementForm, ReadingForm, StudyForm
from register.forms.laboratory import BoneDensityForm
from register.forms.outcomes import AttemptForm
from register.forms.patients import PatientForm, PhoneForm
from register.forms.referrals import DrugForm, FractureForm, ReferralForm
from register.forms.reviews import ReviewForm
from register.history.kinds import Kind, moment_words
from register.history.names import Names
from register.models import (
    Attempt,
    BoneDensity,
    CementUse,
    Complication,
    Fracture,
    ImageFile,
    ImageFrame,
    ImageSeries,
    ImplantUse,
    LaboratoryResult,
    Leak,
    Marking,
    Measurement,
    Patient,
    PatientPhone,
    Procedure,
    Reading,
    RecordTransfer,
    Referral,
    ReferralDrug,
    Review,
    Score,
    Study,
    Task,
    TreatedLevel,
)

# Tables that lead to a patient and have no history of their own here.
NOT_TOLD: Final = {
    "planning_ruleresult": "part of its assessment: written with it, never changed",
    "register_theatrelogentry": "the hospital's own log: a file corrects it, a page settles it",
}
Row = Mapping[str, Any]


def _day(row: Row, name: str) -> str:
    value = row.get(name)
    return day_words(date.fromisoformat(value)) if value else "day not recorded"


def _word(vocabulary: tuple[tuple[str, str], ...], code: str) -> str:
    return dict(vocabulary).get(code, code).partition(",")[0]


def _side(row: Row) -> str:
    side = row.get("side", "")
    return f", {_word(SIDE, side)}" if side else ""


def _at_level(row: Row, names: Names) -> str:
    return f"at {names.of(TreatedLevel, row['level_id'])}"


def _blood_value(row: Row) -> tuple[str, str, Callable[[Any], str]]:
    """A blood value as it is named and measured; a ratio needs no unit, nor zeros behind it."""
    unit = row.get("unit", "")
    return (
        _word(LAB_ANALYTE, row["analyte"]),
        "" if unit == "ratio" else unit,
        lambda value: f"{value.normalize():f}" if isinstance(value, Decimal) else str(value),
    )


def _contact(row: Row, names: Names) -> str:
    return f"contact at {names.of(Review, row['review_id'])}"


KINDS: Final = (
    Kind(
        "patient", Patient, "patient", "patients", lambda r, n: "patient’s details",
        forms=(PatientForm,), right="refer", parts=("phone",), hidden=("site",),
        labels={"follow_up_end": "how follow-up ended", "follow_up_ended_on": "follow-up ended on",
                "follow_up_end_source": "who says that follow-up ended"},
    ),
    Kind(
        "phone", PatientPhone, "telephone number", "telephone numbers",
        lambda r, n: f"telephone {r['number']}", forms=(PhoneForm,), right="refer",
    ),
    Kind(
        "referral", Referral, "referral", "referrals",
        lambda r, n: f"referral of {_day(r, 'referred_on')}", forms=(ReferralForm,),
        right="refer", parts=("drug",),
        labels={"neurology_since": "neurology changed since", "urgency": "urgency",
                "no_mri_note": "more about why no MRI", "mri_equivalent": "done in place of MRI"},
    ),
    Kind(
        "drug", ReferralDrug, "drug", "drugs", lambda r, n: _word(ANTITHROMBOTIC, r["drug"]),
        parents=("referral",), forms=(DrugForm,), right="refer",
    ),
    Kind(
        "fracture", Fracture, "fracture", "fractures", lambda r, n: f"{r['level']} fracture",
        forms=(FractureForm,), right="refer",
    ),
    Kind(
        "laboratory", LaboratoryResult, "blood value", "blood values",
        lambda r, n: f"blood test of {_day(r, 'taken_on')}", right="record_findings",
        hidden=("unit", "analyte"), labels={"taken_on": "blood taken"}, value_is=_blood_value,
    ),
    Kind(
        "bone-density", BoneDensity, "bone density", "bone densities",
        lambda r, n: f"bone density of {_day(r, 'measured_on')}", forms=(BoneDensityForm,),
        right="record_findings",
        labels={"site": "T-score measured at", "attenuation_hu": "CT attenuation",
                "attenuation_level": "CT attenuation of level"},
    ),
    Kind(
        "study", Study, "study", "studies",
        lambda r, n: f"{_word(MODALITY, r['modality'])} of {_day(r, 'performed_on')}",
        forms=(StudyForm,), right="record_findings",
    ),
    Kind(
        "reading", Reading, "reading", "readings",
        lambda r, n: f"reading of {r['level']} ({n.of(Study, r['study_id'])})",
        parents=("study",), forms=(ReadingForm,), right="record_findings", parts=("measurement",),
    ),
    Kind(
        "measurement", Measurement, "measurement", "measurements",
        lambda r, n: f"measurement of {n.of(Reading, r['reading_id']).partition(',')[0]}, "
        f"{_day(r, 'measured_on')}",
        parents=("reading", "study"), forms=(MeasurementForm,), right="record_findings",
        hidden=("marking", "outline", "plus_minus"),
    ),
    Kind(
        "image-file", ImageFile, "image file", "image files",
        lambda r, n: f"image file {r['sha256'][:8]} ({n.of(Study, r['study_id'])})",
        parents=("study",),
        labels={"sha256": "SHA-256", "size_bytes": "bytes", "file_name": "name of the file"},
    ),
    Kind(
        "image-series", ImageSeries, "series of images", "series of images",
        lambda r, n: f"series {r['description'] or _word(PLANE, r['plane'])} "
        f"({n.of(Study, r['study_id'])})",
        parents=("study",), right="record_findings", parts=("image-frame",),
        hidden=("uid", "frame_of_reference", "told", "confirmed_for"),
        labels={"identity_note": "why they are this patient's"},
    ),
    Kind(
        "image-frame", ImageFrame, "picture", "pictures",
        lambda r, n: f"picture {r['place'] + 1} of {n.of(ImageSeries, r['series_id'])}",
        parents=("series", "study"),
        hidden=("file", "position", "orientation", "slope", "intercept", "layout", "number"),
    ),
    Kind(
        "marking", Marking, "marking", "markings",
        lambda r, n: f"marks {_word(MARK_VIEW, r['view'])}, {_day(r, 'marked_on')}",
        parents=("reading", "study"), right="record_findings",
        hidden=("frame", "repeats"),
        labels={"marks": "points set", "point_error_mm": "placement error of a mark"},
    ),
    Kind(
        "assessment", Assessment, "assessment", "assessments",
        lambda r, n: f"assessment of {n.of(Fracture, r['fracture_id'])}", parents=("fracture",),
        hidden=("facts", "missing", "would_change", "answer", "ruleset_id", "ruleset_digest",
                "code_version"),
        labels={"as_of": "as of", "answer_words": "answer"},
    ),
    Kind(
        "decision", Decision, "decision", "decisions",
        lambda r, n: f"decision for {n.of(Fracture, r['fracture_id'])}", parents=("fracture",),
        hidden=("against_rules",), labels={"route": "decided for"},
    ),
    Kind(
        "plan", ProcedurePlan, "plan", "plans",
        lambda r, n: f"plan {r['id']}", forms=(PlanForm,), right="manage_lists",
        parts=("planned-level",),
    ),
    Kind(
        "planned-level", PlannedLevel, "planned level", "planned levels",
        lambda r, n: f"{n.of(Fracture, r['fracture_id'])} in plan {r['plan_id']}",
        parents=("plan",), forms=(PlannedLevelForm,),
    ),
    Kind(
        "planned-approach", PlannedApproach, "planned needle", "planned needles",
        lambda r, n: f"{_word(SIDE, r['side'])} needle of {n.of(PlannedLevel, r['level_id'])}",
        parents=("level", "plan"), forms=(ApproachForm,), right="manage_lists",
        labels={"from_marks": "measured on the image"},
    ),
    Kind(
        "list-entry", ListEntry, "case on a list", "cases on lists",
        lambda r, n: f"place on the list of {n.of(TheatreSession, r['session_id'])}",
        parents=("plan",), labels={"minutes": "length"},
    ),
    Kind(
        "procedure", Procedure, "procedure", "procedures",
        lambda r, n: f"procedure of {_day(r, 'performed_on')}", forms=(ProcedureForm,),
        right="record_procedure",
        labels={"operator_words": "operator in the list",
                "lowest_spo2_percent": "lowest oxygen saturation",
                "systolic_fall_percent": "fall of blood pressure"},
    ),
    Kind(
        "treated-level", TreatedLevel, "treated level", "treated levels",
        lambda r, n: f"treatment of the {n.of(Fracture, r['fracture_id'])}",
        parents=("procedure",), forms=(TreatedLevelForm,), right="record_procedure",
    ),
    Kind(
        "implant", ImplantUse, "implant", "implants",
        lambda r, n: f"implant {_at_level(r, n)}{_side(r)}", parents=("level", "procedure"),
        forms=(ImplantForm,), right="record_procedure",
        labels={"gtin": "item number", "size_label": "size", "stock_item": "taken from stock"},
    ),
    Kind(
        "cement", CementUse, "cement entry", "cement entries",
        lambda r, n: f"cement {_at_level(r, n)}{_side(r)}", parents=("level", "procedure"),
        forms=(CementForm,), right="record_procedure",
    ),
    Kind(
        "leak", Leak, "leak", "leaks", lambda r, n: f"leak {_at_level(r, n)}",
        parents=("level", "procedure"), forms=(LeakForm,), right="record_procedure",
    ),
    Kind(
        "complication", Complication, "complication", "complications",
        lambda r, n: f"complication: {_word(COMPLICATION, r['kind'])}", parents=("procedure",),
        forms=(ComplicationForm,), right="record_procedure",
    ),
    Kind(
        "review", Review, "contact", "contacts",
        lambda r, n: f"contact at {n.timepoint(r['timepoint'])}", forms=(ReviewForm,),
        right="follow_up", parts=("score", "attempt"),
        labels={"anchor_on": "counted from", "target_on": "due", "opens_on": "window opens",
                "closes_on": "window closes", "red_flags": "warning signs",
                "red_flags_told_at": "told at", "timepoint": "contact",
                "mode": "held by"},
    ),
    Kind(
        "score", Score, "score", "scores", _contact, parents=("review",), right="follow_up",
        hidden=("instrument", "review"), labels={"unlikely_reason": "why it is right"},
        value_is=lambda r: (
            _word(INSTRUMENT, r["instrument"]), "", INSTRUMENTS[r["instrument"]].words
        ),
    ),
    Kind(
        "attempt", Attempt, "attempt", "attempts",
        lambda r, n: f"attempt of {moment_words(r['made_at'])}, "
        f"{_word(ATTEMPT_OUTCOME, r['outcome'])}",
        parents=("review",), forms=(AttemptForm,), right="follow_up", labels={"mode": "tried by"},
    ),
    Kind(
        "task", Task, "task", "tasks", lambda r, n: f"task: {r['title']}", right="follow_up",
    ),
    Kind(
        "transfer", RecordTransfer, "transfer", "transfers",
        lambda r, n: _word(TRANSFER_KIND, r["kind"]), hidden=("rows", "left_by_undo"),
    ),
)  # fmt: skip
BY_CODE: Final = {kind.code: kind for kind in KINDS}
BY_TABLE: Final = {kind.table: kind for kind in KINDS}
