"""A study, and the page of one level: findings and heights beside the drawn vertebra."""

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from register.domain.days import day_words
from register.domain.drawing.strip import Strip, StripLevel
from register.domain.drawing.vertebra import Body
from register.domain.levels import LEVEL_CODES, TREATABLE_CODES, in_words
from register.domain.vocabulary import END_PLATE, codes
from register.forms.imaging import StudyForm
from register.models import Marking, Reading, Study
from register.permissions import SignedInRequest, needs
from register.selectors import imaging as seen_in
from register.selectors.images import markings_of_reading, series_of
from register.selectors.marked_numbers import marked_lines
from register.services import imaging as writing
from register.templatetags.drawings import heights_of
from register.views.level_page import LevelForms, forms_of, shown_of
from register.views.saving import patient_or_404, patient_page, posted, save


@needs("record_findings")
@require_http_methods(["GET", "POST"])
def study_new(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """Enter an examination; its levels are read on the page that follows."""
    patient = patient_or_404(request, patient_id)
    form = StudyForm(posted(request), instance=Study(patient=patient), whose=str(patient))
    if form.is_valid():
        saved = save(
            request,
            form,
            f"{form.instance} saved. Now choose a level.",
            lambda: writing.study_create(patient=patient, user=request.user, **form.values()),
        )
        if saved:
            there = isinstance(saved, Study)
            return redirect("study-edit", saved.pk) if there else redirect(patient)
    return patient_page(request, patient, "register/imaging/study.html", form)


@needs("record_findings")
@require_http_methods(["GET", "POST"])
def study_edit(request: SignedInRequest, study_id: int) -> HttpResponse:
    """One study: its levels on the strip, and what is known of the examination."""
    study = _study(request, study_id)
    patient = study.patient
    form = StudyForm(posted(request), instance=study, whose=str(patient))
    if form.is_valid() and save(
        request,
        form,
        f"{study} saved.",
        lambda: writing.study_change(
            study=form.instance,
            expected_version=form.expected_version,
            user=request.user,
            why=form.why,
            **form.values(),
        ),
    ):
        return redirect("study-edit", study.pk)
    stored = _study(request, study_id)
    seen = seen_in.levels_seen(stored)
    context = {"study": stored, "seen": list(seen.values()), "strip": _strip(stored, seen)}
    return patient_page(request, patient, "register/imaging/study.html", form, **context)


@needs("record_findings")
@require_http_methods(["GET", "POST"])
def reading_new(request: SignedInRequest, study_id: int, level: str) -> HttpResponse:
    """Read a level of a study: findings and heights."""
    study = _study(request, study_id, level)
    return _level(request, study, level, None)


@needs("record_findings")
@require_http_methods(["GET", "POST"])
def reading_edit(request: SignedInRequest, reading_id: int) -> HttpResponse:
    """The same page for a reading that exists."""
    rows = seen_in.readings_of_site(request.user.site)
    reading = get_object_or_404(rows, pk=reading_id)
    return _level(request, reading.study, reading.level, reading)


@needs("record_findings", names_nobody=True)
@require_POST
def drawing(request: SignedInRequest, study_id: int, level: str) -> HttpResponse:
    """Draw what is in the boxes now; nothing is saved."""
    gave_way = request.POST.get("end_plates", "")
    gave_way = gave_way if gave_way in codes(END_PLATE) else ""
    shown = shown_of(_study(request, study_id, level), level, request.POST, gave_way)
    return render(request, "register/imaging/drawing.html", {"shown": shown})


def _level(
    request: SignedInRequest, study: Study, level: str, reading: Reading | None
) -> HttpResponse:
    forms = forms_of(study, level, reading, request.user, posted(request))
    if forms.reading.is_bound and forms.are_valid():
        saved = save(
            request,
            forms.reading,
            f"{level} saved, {study}.",
            lambda: _write(request, study, level, reading, forms),
            parts=forms.measured,
        )
        if saved:
            there = isinstance(saved, Reading)
            return redirect("reading-edit", saved.pk) if there else redirect("study-edit", study.pk)
    gave_way = str(forms.reading["end_plates"].value() or "")
    typed = posted(request)
    context = {
        "study": study,
        "level": level,
        "heading": f"{level}, {in_words(level)}",
        "lead": f"{study.get_modality_display()} of {day_words(study.performed_on)}",
        "back_url": reverse("study-edit", args=[study.pk]),
        "back_words": "The study",
        "level_forms": forms,
        "forms": forms.measured,
        "shown": shown_of(study, level, typed, gave_way if gave_way in codes(END_PLATE) else ""),
        "markings": _with_lines(reading) if reading else [],
        "series": series_of(study),
        "is_new": reading is None,
    }
    return patient_page(
        request, study.patient, "register/imaging/level.html", forms.reading, **context
    )


def _with_lines(reading: Reading) -> list[tuple[Marking, list[str]]]:
    """Return each marking behind a reading with what it says of the level."""
    return [(one, marked_lines(one, reading.level)) for one in markings_of_reading(reading)]


def _write(
    request: SignedInRequest, study: Study, level: str, reading: Reading | None, forms: LevelForms
) -> Reading:
    return writing.reading_record(
        study=study,
        level=level,
        reading=reading,
        expected_version=forms.reading.expected_version,
        user=request.user,
        findings=forms.findings,
        measurement=forms.measurement,
        neighbours=forms.neighbours,
        why=forms.reading.why,
    )


def _study(request: SignedInRequest, study_id: int, level: str = "") -> Study:
    if level and level not in LEVEL_CODES:
        raise Http404
    rows = seen_in.studies_of_site(request.user.site).select_related("patient__site")
    return get_object_or_404(rows, pk=study_id)


def _strip(study: Study, seen: dict[str, seen_in.LevelSeen]) -> Strip:
    """Return T1 to L5 with a link to each level: to its reading, or to a new one."""
    fractured = seen_in.fractured_levels(study.patient)
    return Strip.of(
        _strip_level(study, code, seen.get(code), code in fractured) for code in TREATABLE_CODES
    )


def _strip_level(
    study: Study, code: str, seen: seen_in.LevelSeen | None, is_fractured: bool
) -> StripLevel:
    state = "fracture" if is_fractured else ""
    if seen is None:
        words = "fracture, not read here" if is_fractured else "not read"
        return StripLevel(
            Body(code, state=state), words, reverse("reading-new", args=[study.pk, code])
        )
    measured = "measured" if seen.measurement else "not measured"
    return StripLevel(
        Body(code, heights_of(seen.measurement), seen.reading.end_plates, state),
        f"{'fracture, ' if is_fractured else ''}read, {measured}",
        reverse("reading-edit", args=[seen.reading.pk]),
    )
