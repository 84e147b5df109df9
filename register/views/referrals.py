"""The referral in one sitting, one fracture, blood tests and bone density."""

from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from register.domain.days import day_words
from register.forms.editing import AsideForm
from register.forms.laboratory import (
    BloodAndBoneForm,
    BloodTestFormSet,
    BoneDensityFormSet,
    LaboratoryResultForm,
)
from register.forms.referrals import DrugFormSet, FractureForm, LevelFormSet, ReferralForm
from register.models import Fracture, LaboratoryResult, Referral, ReferralDrug
from register.permissions import SignedInRequest, needs
from register.selectors import laboratory as reading
from register.services import referrals as writing
from register.views.saving import patient_or_404, patient_page, posted, save

NO_LEVEL = "Give at least one level: the list of waiting goes by levels."


@needs("refer")
@require_http_methods(["GET", "POST"])
def referral_new(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """Enter a referral with its drugs and levels."""
    patient = patient_or_404(request, patient_id)
    form = ReferralForm(posted(request), instance=Referral(patient=patient), whose=str(patient))
    drugs = DrugFormSet(posted(request), prefix="drugs", patient=patient)
    levels = LevelFormSet(posted(request), prefix="fractures")
    if _all_valid(form, drugs, levels):
        if not levels.filled():
            form.add_error(None, NO_LEVEL)
        elif save(
            request,
            form,
            f"Referral of {day_words(form.cleaned_data['referred_on'])} saved.",
            lambda: writing.referral_create(
                patient=patient,
                user=request.user,
                drugs=drugs.values(),
                fractures=levels.values(),
                **form.values(),
            ),
        ):
            return redirect("patient-record", patient.pk)
    parts = {"drugs": drugs, "fractures": levels, "forms": [levels, drugs]}
    return patient_page(request, patient, "register/referrals/form.html", form, **parts)


@needs("refer")
@require_http_methods(["GET", "POST"])
def referral_edit(request: SignedInRequest, referral_id: int) -> HttpResponse:
    """Change a referral, its drugs and levels."""
    rows = Referral.objects.live().select_related("patient")
    referral = get_object_or_404(rows, pk=referral_id, patient__site=request.user.site)
    patient = referral.patient
    form = ReferralForm(posted(request), instance=referral, whose=str(patient))
    taken = ReferralDrug.objects.live().filter(referral=referral).order_by("pk")
    broken = Fracture.objects.live().filter(referral=referral).order_by("pk")
    drugs = DrugFormSet(posted(request), prefix="drugs", instances=taken, patient=patient)
    levels = LevelFormSet(posted(request), prefix="fractures", instances=broken)
    if _all_valid(form, drugs, levels) and save(
        request,
        form,
        f"Referral of {day_words(referral.referred_on)} saved.",
        lambda: writing.referral_change(
            referral=form.instance,
            expected_version=form.expected_version,
            user=request.user,
            why=form.why,
            drugs=drugs.values(),
            fractures=levels.values(),
            **form.values(),
        ),
        parts=[*drugs.forms, *levels.forms],
    ):
        return redirect("patient-record", patient.pk)
    parts = {"drugs": drugs, "fractures": levels, "forms": [levels, drugs]}
    context = {"referral": referral, "broken": broken, **parts}
    return patient_page(request, patient, "register/referrals/form.html", form, **context)


@needs("refer")
@require_http_methods(["GET", "POST"])
def fracture_edit(request: SignedInRequest, fracture_id: int) -> HttpResponse:
    """Change one fracture by itself."""
    fracture = _fracture(request, fracture_id)
    patient = fracture.patient
    form = FractureForm(posted(request), instance=fracture, whose=str(patient))
    if form.is_valid() and save(
        request,
        form,
        f"{fracture.level} fracture saved.",
        lambda: writing.fracture_change(
            fracture=form.instance,
            expected_version=form.expected_version,
            user=request.user,
            why=form.why,
            **form.values(),
        ),
    ):
        return redirect("patient-record", patient.pk)
    stored = _fracture(request, fracture_id)
    return patient_page(request, patient, "register/referrals/fracture.html", form, fracture=stored)


@needs("refer")
@require_http_methods(["GET", "POST"])
def fracture_aside(request: SignedInRequest, fracture_id: int) -> HttpResponse:
    """Set a fracture aside that was entered by mistake, with the reason."""
    fracture = _fracture(request, fracture_id)
    patient = fracture.patient
    form = AsideForm(
        posted(request),
        initial={"version": fracture.version},
        words="Set the fracture aside",
        whose=str(patient),
    )
    if form.is_valid() and save(
        request,
        form,
        f"{fracture.level} fracture set aside.",
        lambda: (
            writing.fracture_void(
                fracture=fracture,
                expected_version=form.cleaned_data["version"],
                user=request.user,
                reason=form.cleaned_data["reason"],
            )
            or True
        ),
    ):
        return redirect("patient-record", patient.pk)
    return patient_page(
        request,
        patient,
        "register/simple_form.html",
        form,
        heading=f"Set the {fracture.level} fracture aside",
        lead="It leaves every list and count. It stays in the history, with your reason.",
        back_url=reverse("fracture-edit", args=[fracture.pk]),
        back_words=f"{fracture.level} fracture",
    )


@needs("record_findings")
@require_http_methods(["GET", "POST"])
def laboratory_new(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """Enter blood tests and bone densities, several days at one sitting."""
    patient = patient_or_404(request, patient_id)
    form = BloodAndBoneForm(posted(request), whose=str(patient))
    blood = BloodTestFormSet(posted(request), prefix="blood", form_kwargs={"patient": patient})
    bones = BoneDensityFormSet(
        posted(request), prefix="bones", instances=reading.bone_densities(patient), patient=patient
    )
    if _all_valid(form, blood, bones) and save(
        request,
        form,
        "Blood tests and bone density saved.",
        lambda: writing.blood_and_bone_record(
            patient=patient,
            blood=blood.blood_tests(),
            bones=bones.values(),
            user=request.user,
        ),
        parts=bones.forms,
    ):
        return redirect("patient-record", patient.pk)
    context = {"blood": blood, "bones": bones, "forms": [blood, bones]}
    context["recorded"] = reading.blood_table(patient)
    return patient_page(request, patient, "register/referrals/blood.html", form, **context)


@needs("record_findings")
@require_http_methods(["GET", "POST"])
def laboratory_edit(request: SignedInRequest, result_id: int) -> HttpResponse:
    """Correct one value of a blood test."""
    result = _result(request, result_id)
    patient, words = result.patient, result.get_analyte_display()
    form = LaboratoryResultForm(posted(request), instance=result, whose=str(patient))
    if form.is_valid() and save(
        request,
        form,
        f"{words} saved.",
        lambda: writing.laboratory_change(
            result=form.instance,
            expected_version=form.expected_version,
            user=request.user,
            why=form.why,
            **form.values(),
        ),
    ):
        return redirect("laboratory-new", patient.pk)
    return patient_page(
        request,
        patient,
        "register/referrals/result.html",
        form,
        result=_result(request, result_id),
    )


def _result(request: SignedInRequest, result_id: int) -> LaboratoryResult:
    rows = LaboratoryResult.objects.live().select_related("patient")
    return get_object_or_404(rows, pk=result_id, patient__site=request.user.site)


def _fracture(request: SignedInRequest, fracture_id: int) -> Fracture:
    rows = Fracture.objects.live().select_related("patient", "referral")
    return get_object_or_404(rows, pk=fracture_id, patient__site=request.user.site)


def _all_valid(*bound: forms.BaseForm | Any) -> bool:
    """Check every part, so that all errors are told at once."""
    return all([part.is_valid() for part in bound])
