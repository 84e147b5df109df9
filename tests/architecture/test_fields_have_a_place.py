"""Every column of every clinical record stands on a page, or a written reason says why not."""

from typing import Final

import pytest
from django.apps import apps
from django.db.models import Model

from register.forms.base import RegisterModelForm
from register.models.base import Record
from tests.pages import every_page, forms_seen

# Columns that every record has.
OF_EVERY_RECORD: Final = {
    "id": "given by the database",
    "created_at": "the moment of saving",
    "version": "counted at each change",
    "absent": "the reasons beside the boxes",
    "unusual": "the answers beside unusual values",
    "voided_at": "the moment of setting aside",
    "void_reason": "asked on the page that sets a record aside",
    "site": "the department of whoever enters the record",
}
# Records that nobody types.
MADE_BY_THE_REGISTER: Final = {
    "Protocol": "a frozen copy of the parameter files; the page of the protocol shows it",
    "FileImport": "a file that was sent in; what is said about it is asked on its own pages",
    "ColumnMapping": "what was said about the columns of a file, kept for the next one",
    "TheatreLogEntry": "read from a theatre log; the log stays the master",
    "RecordTransfer": "made by merging and moving, on pages that ask why",
    "ImageFile": "a file that was sent in, as it came",
    "ImageFrame": "a picture of a file, as the file tells it",
    "Assessment": "the rules applied by the register; facts, wording and digest are kept",
}
# Columns that the register sets by itself, and from what.
SET_BY_THE_REGISTER: Final = {
    "PatientPhone.patient": "the patient of the page",
    "Referral.patient": "the patient of the page",
    "Referral.state": "open; which fractures wait follows from their own states",
    "Referral.urgency_set_by": "who chose the urgency",
    "Referral.urgency_set_on": "the day on which it was chosen",
    "ReferralDrug.referral": "the referral of the page",
    "LaboratoryResult.patient": "the patient of the page",
    "LaboratoryResult.unit": "the register's unit of the test, printed beside the box",
    "BoneDensity.patient": "the patient of the page",
    "Fracture.patient": "the patient of the page",
    "Fracture.referral": "the referral of the page",
    "Fracture.state": "follows from decision and procedure",
    "Study.patient": "the patient of the page",
    "Reading.study": "the study of the page",
    "Reading.level": "chosen on the spine",
    "Measurement.reading": "the reading of the page",
    "Measurement.observer": "who read the level",
    "Measurement.measured_on": "the day of the reading",
    "Measurement.marking": "the marks that the numbers come from",
    "Measurement.outline": "the marked shape",
    "Measurement.plus_minus": "follows from how far a mark misses its place",
    "Study.numbering_confirmed_by": "who confirmed the numbering",
    "Study.numbering_confirmed_at": "the moment of confirming",
    **{
        f"ImageSeries.{name}": "as the files tell it"
        for name in (
            "uid",
            "number",
            "description",
            "made_with",
            "plane",
            "frame_of_reference",
            "told",
        )
    },
    "ImageSeries.study": "the study of the page",
    "ImageSeries.confirmed_for": "the patient of the page",
    "ImageSeries.identity_confirmed_by": "who confirmed",
    "ImageSeries.identity_confirmed_at": "the moment of confirming",
    "Marking.reading": "the reader's reading of the level of the page",
    "Marking.frame": "the picture of the page",
    "Marking.observer": "who set the marks",
    "Marking.marked_on": "the day on which they were set",
    "Marking.view": "chosen before",
    "Marking.repeats": "the marks of the page that asks for a second reading",
    "Marking.point_error_mm": "the protocol's, or the department's own",
    "Procedure.patient": "the patient of the plan",
    "Procedure.technique": "the technique of the plan",
    "Procedure.performed_on": "the day of the session on whose list it stood",
    "Procedure.state": "set by signing, or by the list of earlier procedures that brought it",
    "Procedure.operator_words": "the name that a list of earlier procedures gives",
    "Procedure.signed_by": "who signed",
    "Procedure.signed_at": "the moment of signing",
    "TreatedLevel.procedure": "the procedure of the page",
    "TreatedLevel.fracture": "the fracture of the plan",
    "ImplantUse.level": "the level of the page",
    "ImplantUse.stock_item": "found by item number and lot",
    "ImplantUse.gtin": "read from the scan",
    "ImplantUse.lot": "read from the scan",
    "ImplantUse.serial": "read from the scan",
    "ImplantUse.produced_on": "read from the scan",
    "ImplantUse.expires_on": "read from the scan",
    "CementUse.level": "the level of the page",
    "Leak.level": "the level of the page",
    "Complication.procedure": "the procedure of the page",
    "Review.patient": "scheduled",
    "Review.procedure": "scheduled when it was signed",
    "Review.fracture": "scheduled when conservative care was decided",
    "Review.timepoint": "a timepoint of the protocol",
    "Review.anchor_on": "the day of the procedure or decision",
    "Review.target_on": "counted from the anchor by the protocol",
    "Review.opens_on": "counted from the anchor by the protocol",
    "Review.closes_on": "counted from the anchor by the protocol",
    "Review.recorded_by": "who saved the contact first",
    "Score.review": "the contact of the page",
    "Attempt.review": "the contact of the page",
    "Attempt.made_by": "who noted the try",
    "Task.patient": "the patient of the page",
    "Task.closed_at": "the moment of closing",
    "Task.closed_by": "who closed it",
    "Decision.fracture": "the fracture of the page",
    "Decision.assessment": "the assessment that the page showed",
    "Decision.made_by": "who saved the decision",
    "Decision.against_rules": "found by comparing decision and assessment",
    "ProcedurePlan.patient": "the patient of the page",
    "ProcedurePlan.state": "set by approving and by taking the approval back",
    "ProcedurePlan.approved_by": "who approved",
    "ProcedurePlan.approved_at": "the moment of approving",
    "PlannedLevel.plan": "the plan of the page",
    "PlannedLevel.decision": "the decision in force when the plan was drafted",
    "PlannedApproach.level": "the planned level of the page",
    "PlannedApproach.side": "the side whose button was pressed",
    "PlannedApproach.from_marks": "yes from marks on the image, no once a number is typed",
    "ListEntry.session": "the session of the page",
    "ListEntry.place": "moved by the buttons of the list",
    "ListEntry.state": "set by taking off and by opening the record",
    "ListEntry.procedure": "the record opened from the list",
}
# Columns that are asked by a box of another name: page, form, box.
ASKED_AS: Final = {
    "Referral.onset_precision": ("referral-edit", "ReferralForm", "onset_on"),
    "Fracture.onset_precision": ("fracture-edit", "FractureForm", "onset_on"),
    "LaboratoryResult.analyte": ("laboratory-new", "BloodTestForm", "inr"),
    "Patient.follow_up_end": ("follow-up-end", "EndForm", "end"),
    "Patient.follow_up_ended_on": ("follow-up-end", "EndForm", "ended_on"),
    "Patient.follow_up_end_source": ("follow-up-end", "EndForm", "source"),
    "Review.held_on": ("review", "ReviewForm", "held_on"),
    "Review.mode": ("review", "ReviewForm", "mode"),
    "Review.informant": ("review", "ReviewForm", "informant"),
    "Review.informant_name": ("review", "ReviewForm", "informant_name"),
    "Review.red_flags": ("review", "ReviewForm", "red_flags"),
    "Review.red_flags_told": ("review", "ReviewForm", "red_flags_told"),
    "Review.red_flags_told_at": ("review", "ReviewForm", "told_at"),
    "Review.note": ("review", "ReviewForm", "note"),
    "Score.instrument": ("review", "ReviewForm", "pain_now"),
    "Score.value": ("review", "ReviewForm", "pain_now"),
    "Attempt.made_at": ("attempt-new", "AttemptForm", "made_at"),
    "Attempt.mode": ("attempt-new", "AttemptForm", "mode"),
    "Attempt.outcome": ("attempt-new", "AttemptForm", "outcome"),
    "Attempt.next_try_on": ("attempt-new", "AttemptForm", "next_try_on"),
    "Attempt.note": ("attempt-new", "AttemptForm", "note"),
    "Task.action_taken": ("task-close", "TaskCloseForm", "action_taken"),
    "Decision.route": ("decide", "DecisionForm", "route"),
    "Decision.reason": ("decide", "DecisionForm", "reason"),
    "Decision.decided_on": ("decide", "DecisionForm", "decided_on"),
    "Decision.second_name": ("decide", "DecisionForm", "second_name"),
    "Decision.team_meeting_on": ("decide", "DecisionForm", "team_meeting_on"),
    "Decision.team_present": ("decide", "DecisionForm", "team_present"),
    "ImageSeries.identity_note": ("image-identity", "IdentityForm", "identity_note"),
    "PlannedLevel.fracture": ("plan-new", "PlanStartForm", "fractures"),
    "ListEntry.plan": ("theatre-session", "ListPlanForm", "plan"),
    "ListEntry.minutes": ("theatre-session", "ListPlanForm", "minutes"),
    "ListEntry.cancelled_reason": ("entry-cancel", "CancelEntryForm", "reason"),
}
# Boxes that show only when they are needed.
SHOWN_WHEN_NEEDED: Final = {
    "Score.unlikely_reason": "the answer beside a score that was asked about",
}


def clinical_records() -> list[type[Model]]:
    return [
        model
        for model in apps.get_models()
        if issubclass(model, Record) and model._meta.app_label in ("register", "planning")
    ]


def columns() -> dict[str, None]:
    """Every column that must have a place, in the order of the models."""
    return {
        f"{model.__name__}.{column.name}": None
        for model in clinical_records()
        if model.__name__ not in MADE_BY_THE_REGISTER
        for column in model._meta.concrete_fields
        if column.name not in OF_EVERY_RECORD
    }


@pytest.fixture
def on_pages(db) -> set[str]:
    """Columns whose own box stands on a page that somebody may open."""
    every_page()
    return {
        f"{form._meta.model.__name__}.{name}"
        for page, form in forms_seen()
        if isinstance(form, RegisterModelForm)
        for name in form.fields
        if page.shows(form, name)
    }


def test_every_column_has_a_place_on_a_page_or_a_reason(on_pages):
    explained = on_pages | SET_BY_THE_REGISTER.keys() | ASKED_AS.keys() | SHOWN_WHEN_NEEDED.keys()
    homeless = [name for name in columns() if name not in explained]
    print(f"{len(columns())} columns, {len(on_pages & columns().keys())} under their own name")
    assert not homeless


def test_what_is_asked_under_another_name_is_really_asked(on_pages):
    shown = {
        (page.name, type(form).__name__, name)
        for page, form in forms_seen()
        for name in form.fields
        if page.shows(form, name)
    }
    assert [name for name, place in ASKED_AS.items() if place not in shown] == []


def test_no_reason_is_out_of_date(on_pages):
    lists = (SET_BY_THE_REGISTER, ASKED_AS, SHOWN_WHEN_NEEDED)
    told = [name for reasons in lists for name in reasons]
    assert [name for name in told if name not in columns()] == [], "no such column"
    assert [name for name in told if name in on_pages] == [], "stands on a page by itself"
    models = {model.__name__ for model in clinical_records()}
    assert set(MADE_BY_THE_REGISTER) <= models
