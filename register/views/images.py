"""Images of a study: sent in, looked at, said to be this patient's, levels counted."""

import json
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_GET, require_http_methods

from register.domain.days import day_words
from register.domain.image_identity import TOLD, differences_in_words, told_in_words
from register.domain.nhs_number import formatted
from register.forms.images import IdentityForm, ImagesForm, NumberingForm
from register.images.refusals import ImageRefused
from register.models import ImageSeries, Patient, Study
from register.permissions import SignedInRequest, needs
from register.selectors import images as seen
from register.selectors.imaging import studies_of_site
from register.selectors.numbering import differing_from
from register.services import images as writing
from register.services.numbering import numbering_confirm
from register.views.saving import patient_page, posted, save
from register.views.viewer_data import look_data


@needs("record_findings")
@require_http_methods(["GET", "POST"])
def study_images(request: SignedInRequest, study_id: int) -> HttpResponse:
    """The series of a study; POST takes files and says of each what came of it."""
    study = _study(request, study_id)
    form = ImagesForm(posted(request), request.FILES or None, whose=str(study.patient))
    taken = None
    if form.is_valid():
        sent = [(file.name, file) for file in form.sent]
        taken = writing.images_take(study=study, user=request.user, sent=sent)
        form = ImagesForm(whose=str(study.patient))
    context = {
        "study": study,
        "series": seen.series_of(study),
        "taken": taken,
        "differing": differing_from(study),
    }
    return patient_page(request, study.patient, "register/images/study.html", form, **context)


@needs("record_findings")
@require_GET
def image_series(request: SignedInRequest, series_id: int) -> HttpResponse:
    """Look at a series: scroll, zoom, window; the other series of the study beside it."""
    series = _series(request, series_id)
    if not series.is_settled:
        return redirect("image-identity", series.pk)
    writing.expect_pictures()
    frames = seen.frames_of(series)
    others = seen.settled_series_with_frames(series.study)
    context = {
        "series": series,
        "study": series.study,
        "frames": frames,
        "notes": seen.order_notes(frames),
        "viewer": look_data(series, frames, others),
    }
    form = IdentityForm(whose="")  # nothing is sent from this page
    return patient_page(
        request, series.study.patient, "register/images/series.html", form, **context
    )


@needs("record_findings", names_nobody=True)  # a part of a page whose look was noted
@require_GET
def image_pixels(request: SignedInRequest, frame_id: int) -> HttpResponse:
    """The stored values of one frame, for the script of a page; 422 with words when unreadable."""
    frame = get_object_or_404(seen.frames_of_site(request.user.site), pk=frame_id)
    if not frame.series.is_settled:
        raise Http404
    try:
        head, values = writing.picture_of(frame)
    except ImageRefused as refused:
        return HttpResponse(str(refused), status=422, content_type="text/plain; charset=utf-8")
    answer = HttpResponse(values, content_type="application/octet-stream")
    answer["X-Picture"] = json.dumps(head)
    return answer


@needs("record_findings")
@require_http_methods(["GET", "POST"])
def image_identity(request: SignedInRequest, series_id: int) -> HttpResponse:
    """What the files say of the person, beside the register; POST says that they are hers."""
    series = _series(request, series_id)
    patient = series.study.patient
    form = IdentityForm(posted(request), initial={"version": series.version}, whose=str(patient))
    if form.is_valid() and save(
        request,
        form,
        f"{series}: confirmed as this patient's images.",
        lambda: writing.series_confirm(
            series=series,
            expected_version=form.cleaned_data["version"],
            note=form.cleaned_data["identity_note"],
            user=request.user,
        ),
    ):
        return redirect("study-images", series.study_id)
    context = {
        "series": series,
        "rows": _compared(series, patient),
        "words": differences_in_words(series.differs) if series.differs else "Nothing differs.",
    }
    return patient_page(request, patient, "register/images/identity.html", form, **context)


@needs("record_findings")
@require_http_methods(["GET", "POST"])
def study_numbering(request: SignedInRequest, study_id: int) -> HttpResponse:
    """Confirm how the levels of a study were counted."""
    study = _study(request, study_id)
    differing = differing_from(study)
    form = NumberingForm(posted(request), instance=study, whose=str(study.patient))
    if form.is_valid() and save(
        request,
        form,
        "Numbering confirmed.",
        lambda: numbering_confirm(
            study=form.instance,
            expected_version=form.expected_version,
            user=request.user,
            **form.values(),
        ),
    ):
        return redirect("study-images", study.pk)
    context = {"study": study, "differing": differing}
    return patient_page(request, study.patient, "register/images/numbering.html", form, **context)


def _compared(series: ImageSeries, patient: Patient) -> list[dict[str, Any]]:
    """Return a line for each thing that a file can say of its person."""
    known = {
        "name": f"{patient.family_name.upper()}, {patient.given_name}",
        "number": " or ".join(
            [patient.hospital_number, *([formatted(patient.nhs_number)] * bool(patient.nhs_number))]
        ),
        "birth": day_words(patient.date_of_birth),
        "sex": patient.get_sex_display(),
        "accession": "",
    }
    return [
        {
            "what": f"{words[0].upper()}{words[1:]}",
            "told": told_in_words(what, series.told.get(what, "")),
            "known": known[what],
            "differs": what in series.differs,
            "compared": what != "accession",
        }
        for what, words in TOLD.items()
    ]


def _study(request: SignedInRequest, study_id: int) -> Study:
    rows = studies_of_site(request.user.site).select_related(
        "patient__site", "numbering_confirmed_by"
    )
    return get_object_or_404(rows, pk=study_id)


def _series(request: SignedInRequest, series_id: int) -> ImageSeries:
    return get_object_or_404(seen.series_of_site(request.user.site), pk=series_id)
