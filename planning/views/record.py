"""The patient record, and the urgency that a person sets on it."""

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_POST

from planning.evidence import evidence_of
from planning.forms.waiting import UrgencyForm
from planning.selectors.record import FractureView, record_of
from planning.services.urgency import urgency_set
from planning.views.access import patient_or_404
from register.models import Fracture, Patient, User
from register.permissions import ROLE_RIGHTS, SignedInRequest, may, needs
from register.selectors.transfers import joined_of
from register.services.editing import EditConflict


@dataclass(frozen=True, slots=True)
class Link:
    """One page where something can be entered."""

    words: str
    url: str


@needs("see_patients", "see_with_reason")
@require_GET
def patient_record(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """Show one patient with one fracture chosen."""
    patient = patient_or_404(request, patient_id)
    asked = request.GET.get("fracture", "")
    record = record_of(patient, on=localdate(), fracture_id=_number(asked))
    chosen = record.chosen
    context = {
        "record": record,
        "chosen": chosen,
        "identity": record.identity,
        "site": request.user.site,
        "may": {right: True for right in ROLE_RIGHTS[request.user.role]},
        "may_act": chosen and chosen.step and may(request.user, chosen.step.right),
        "urgency_form": _urgency_form(chosen),
        "links": _links(request.user, patient, chosen),
        "joined": joined_of(patient),
        "may_see_transfers": may(request.user, "merge_records"),
    }
    return render(request, "planning/patient_record.html", context)


@needs("refer")
@require_POST
def urgency(request: SignedInRequest, fracture_id: int) -> HttpResponse:
    """Set how soon somebody must act on a fracture, in the name of the person signed in."""
    fracture = fracture_or_404(request, fracture_id)
    referral = evidence_of(fracture, on=localdate()).referral
    form = UrgencyForm(request.POST)
    if referral is None:
        messages.error(request, "Enter the referral first: urgency is kept with it.")
    elif form.is_valid():
        try:
            urgency_set(
                referral=referral,
                urgency=form.cleaned_data["urgency"],
                on=localdate(),
                user=request.user,
                expected_version=form.cleaned_data["version"] or 0,
            )
        except EditConflict as problem:
            messages.error(request, f"{problem} It now says: {referral_words(problem)}.")
        else:
            messages.success(request, _saved(referral.get_urgency_display(), fracture))
    return redirect(record_address(fracture))


def fracture_or_404(request: SignedInRequest, fracture_id: int) -> Fracture:
    """Return a live fracture of the person's own site, with its patient."""
    rows = Fracture.objects.live().select_related("patient__site", "referral")
    site = request.user.site
    return get_object_or_404(rows, pk=fracture_id, patient__site=site, patient__voided_at=None)


def record_address(fracture: Fracture) -> str:
    """Return the record's address with this fracture chosen."""
    return f"{fracture.patient.get_absolute_url()}?fracture={fracture.pk}"


def referral_words(problem: EditConflict) -> str:
    """Return what somebody else saved in the meantime."""
    return problem.theirs["urgency"] or "not set"


def _saved(words: str, fracture: Fracture) -> str:
    if not words:
        return f"Urgency of {fracture.level} taken back."
    return f"Urgency of {fracture.level} set to {words}."


def _urgency_form(chosen: FractureView | None) -> UrgencyForm | None:
    if chosen is None or chosen.referral is None:
        return None
    referral = chosen.referral
    return UrgencyForm(initial={"urgency": referral.urgency, "version": referral.version})


def _links(user: User, patient: Patient, chosen: FractureView | None) -> list[Link]:
    """Return the entry pages that this person may open, those of the chosen fracture first."""
    fracture = chosen.fracture if chosen else None
    referral = chosen.referral if chosen else None
    offered = [
        ("Change this fracture", "refer", "fracture-edit", fracture),
        ("Change the referral", "refer", "referral-edit", referral),
        ("Add images and readings", "record_findings", "study-new", patient),
        ("Blood tests and bone density", "record_findings", "laboratory-new", patient),
        ("Tests and results to see", "refer", "patient-tasks", patient),
        ("Plan a procedure", "manage_lists", "plan-new", patient),
        ("Course and contacts", "follow_up", "course", patient),
        ("New referral", "refer", "referral-new", patient),
        ("Change the patient's details", "refer", "patient-edit", patient),
        ("Same person twice?", "merge_records", "merge-find", patient),
        ("Entered for the wrong patient?", "merge_records", "move-list", patient),
    ]
    return [
        Link(words, reverse(name, args=[row.pk]))
        for words, right, name, row in offered
        if row is not None and may(user, right)
    ]


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None
