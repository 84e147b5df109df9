"""Finding a patient, and who they are."""

from typing import Final

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from register.forms.patients import PatientForm, PhoneFormSet, SearchForm
from register.models import Patient
from register.permissions import SignedInRequest, may, needs
from register.selectors.patients import (
    patient_with_number,
    patients_found,
    phones_of,
    similar_among,
)
from register.selectors.set_aside import with_other_numbers
from register.services import patients as writing
from register.views.saving import patient_or_404, patient_page, posted, save

SEARCH: Final = "patient_search"  # session key: what was looked for last
ROWS: Final = 50


@needs("see_patients", "see_with_reason")
@require_http_methods(["GET", "POST"])
def patient_search(request: SignedInRequest) -> HttpResponse:
    """Look somebody up. The words stay in the session, so that no address holds a name."""
    if request.method == "POST":
        form = SearchForm(request.POST)
        if form.is_valid():
            request.session[SEARCH] = form.cleaned_data["text"]
            return redirect("patient-search")
        return render(request, "register/patients/search.html", {"form": form}, status=422)
    text = request.session.get(SEARCH, "")
    by_number_only = not may(request.user, "see_patients")
    context = {
        "form": SearchForm(initial={"text": text}),
        "text": text,
        "by_number_only": by_number_only,
        "may_add": may(request.user, "refer"),
    }
    if text:
        found = patients_found(request.user.site, text, by_number_only=by_number_only)
        page = Paginator(found, ROWS).get_page(request.GET.get("page"))
        with_other_numbers(page)
        context |= {
            "page": page,
            "pages": page.paginator.get_elided_page_range(page.number),
            "similar": similar_among(found),
        }
    return render(request, "register/patients/search.html", context)


@needs("refer")
@require_http_methods(["GET", "POST"])
def patient_new(request: SignedInRequest) -> HttpResponse:
    """Enter a patient by hand."""
    site = request.user.site
    form = PatientForm(posted(request), instance=Patient(site=site), site=site)
    phones = PhoneFormSet(posted(request), prefix="phones")
    if form.is_valid() and phones.is_valid():
        saved = save(
            request,
            form,
            f"{form.instance} saved. Now add the referral.",
            lambda: writing.patient_create(
                site=site, user=request.user, phones=phones.values(), **form.values()
            ),
        )
        if isinstance(saved, Patient):
            return redirect("referral-new", saved.pk)
        if saved:
            number = form.cleaned_data["hospital_number"]
            there = patient_with_number(site, "hospital_number", number, None)
            return redirect(there) if there else redirect("patient-search")
    wrong = phones.is_bound and bool(phones.total_error_count())
    context = {"form": form, "phones": phones, "forms": [phones], "has_errors": wrong}
    return render(
        request, "register/patients/form.html", context, status=422 if form.is_bound else 200
    )


@needs("refer")
@require_http_methods(["GET", "POST"])
def patient_edit(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """Change who a patient is and how to reach them."""
    patient = patient_or_404(request, patient_id)
    form = PatientForm(posted(request), instance=patient, site=request.user.site)
    phones = PhoneFormSet(posted(request), prefix="phones", instances=phones_of(patient))
    if form.is_valid() and phones.is_valid():
        saved = save(
            request,
            form,
            f"{patient}: details saved.",
            lambda: writing.patient_change(
                patient=form.instance,
                expected_version=form.expected_version,
                user=request.user,
                why=form.why,
                phones=phones.values(),
                **form.values(),
            ),
            parts=phones.forms,
        )
        if saved:
            return redirect("patient-record", patient.pk)
    stored = patient_or_404(request, patient_id)
    return patient_page(
        request, stored, "register/patients/form.html", form, phones=phones, forms=[phones]
    )
