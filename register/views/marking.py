"""Marking a picture: choose level and view, set the marks, read again without seeing them."""

from typing import Any, Final

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from register.domain.days import day_words
from register.domain.levels import LEVEL_CODES
from register.domain.measuring.points import VIEWS
from register.domain.vocabulary import MARK_VIEW
from register.forms.marking import MarkingForm, MarkStartForm
from register.models import ImageFrame, Marking
from register.permissions import SignedInRequest, needs
from register.selectors import images as seen
from register.selectors.imaging import fractured_levels, neighbours
from register.services import marking as writing
from register.services.images import expect_pictures
from register.views.saving import patient_page, posted, save
from register.views.viewer_data import mark_data


@needs("record_findings")
@require_GET
def mark_start(request: SignedInRequest, series_id: int) -> HttpResponse:
    """Choose which level of a picture is marked, and in which view; then go on."""
    series = get_object_or_404(seen.series_of_site(request.user.site), pk=series_id)
    study = series.study
    if not series.is_settled:
        return redirect("image-identity", series.pk)
    if study.numbering_confirmed_at is None:
        messages.info(request, "First confirm how the levels of this study were counted.")
        return redirect("study-numbering", study.pk)
    frames = seen.frames_of(series)
    form = MarkStartForm(
        request.GET if "view" in request.GET else None,
        frames=frames,
        asked=request.GET.get("picture", ""),
        level=request.GET.get("level", ""),
        series=series,
        fractured=fractured_levels(study.patient),
    )
    if form.is_valid():
        return redirect("marking-new", *form.target)
    return patient_page(
        request, study.patient, "register/images/start.html", form, series=series, study=study
    )


@needs("record_findings")
@require_http_methods(["GET", "POST"])
def marking_new(request: SignedInRequest, frame_id: int, level: str, view: str) -> HttpResponse:
    """Mark a picture that this reader has not marked yet; one's own marks are opened again."""
    frame = _frame(request, frame_id)
    if level not in LEVEL_CODES or view not in VIEWS:
        raise Http404
    own = seen.own_marking(frame, level, view, request.user)
    if own is not None and request.method == "GET":
        return redirect("marking-edit", own.pk)
    return _page(request, _Task(frame, level, view))


@needs("record_findings")
@require_http_methods(["GET", "POST"])
def marking_edit(request: SignedInRequest, marking_id: int) -> HttpResponse:
    """Look at the marks of a picture and change them."""
    marking = _marking(request, marking_id)
    task = _Task(_frame(request, marking.frame_id), marking.reading.level, marking.view, marking)
    return _page(request, task)


@needs("record_findings")
@require_http_methods(["GET", "POST"])
def marking_again(request: SignedInRequest, marking_id: int) -> HttpResponse:
    """Mark the same picture a second time without seeing the first marks."""
    first = _marking(request, marking_id)
    if request.method == "GET" and (words := writing.why_not_again(first, request.user)):
        messages.info(request, words)
        return redirect("marking-edit", first.pk)
    frame = _frame(request, first.frame_id)
    return _page(request, _Task(frame, first.reading.level, first.view, repeats=first))


class _Task:
    """What is marked: a level of a frame in a view; anew, again, or once more unseen."""

    def __init__(
        self,
        frame: ImageFrame,
        level: str,
        view: str,
        marking: Marking | None = None,
        repeats: Marking | None = None,
    ) -> None:
        self.frame, self.level, self.view = frame, level, view
        self.marking, self.repeats = marking, repeats
        self.study = frame.series.study
        self.patient = self.study.patient

    @property
    def form_instance(self) -> Marking:
        return self.marking or Marking(frame=self.frame, view=self.view)

    @property
    def posture(self) -> str:
        """The posture of what was measured with these marks; of the study before that."""
        return seen.posture_measured(self.marking) if self.marking else self.study.posture

    @property
    def heading(self) -> str:
        """What is done on the page."""
        seen_from = dict(MARK_VIEW)[self.view]
        if self.repeats is not None:
            return f"Read {self.level} a second time {seen_from}"
        return f"{'Marks of' if self.marking else 'Mark'} {self.level} {seen_from}"

    def write(self, request: SignedInRequest, form: MarkingForm) -> Marking:
        """Save what the form holds."""
        assert form.read is not None
        sent = writing.Sent(
            marks=form.read,
            stored=form.cleaned_data["marks"],
            mirrored=form.cleaned_data["mirrored"],
            posture=form.cleaned_data["posture"],
        )
        if self.marking is not None:
            return writing.marking_change(
                marking=self.marking,
                expected_version=form.expected_version,
                sent=sent,
                user=request.user,
                why=form.why,
            )
        return writing.marking_record(
            frame=self.frame,
            level=self.level,
            view=self.view,
            sent=sent,
            user=request.user,
            repeats=self.repeats,
        )


def _page(request: SignedInRequest, task: _Task) -> HttpResponse:
    """Save the marks, or show the picture with them."""
    if task.study.numbering_confirmed_at is None:
        messages.info(request, "First confirm how the levels of this study were counted.")
        return redirect("study-numbering", task.study.pk)
    if request.method == "GET":
        expect_pictures()
    form = MarkingForm(
        posted(request),
        instance=task.form_instance,
        frame=task.frame,
        view=task.view,
        posture=task.posture,
        whose=str(task.patient),
    )
    if form.is_valid():
        saved = save(request, form, f"{task.level} measured.", lambda: task.write(request, form))
        if saved:
            there = isinstance(saved, Marking)
            return (
                redirect("reading-edit", saved.reading_id)
                if there
                else redirect("study-images", task.study.pk)
            )
    return patient_page(request, task.patient, "register/images/mark.html", form, **_context(task))


# A slice across, and a needle from the side, belong to one level.
WITH_NEIGHBOURS: Final = ("lateral", "frontal")


def _context(task: _Task) -> dict[str, Any]:
    """Return the page's words, and what its script needs."""
    study, error = task.study, writing.error_of_a_mark(task.study)
    beside = neighbours(task.level) if task.view in WITH_NEIGHBOURS else []
    shown = [task.level, *beside]
    marks = task.marking.marks if task.marking else {}
    levels = sorted({*shown, *(k for k in marks if k in LEVEL_CODES)}, key=LEVEL_CODES.index)
    return {
        "study": study,
        "frame": task.frame,
        "marking": task.marking,
        "repeats": task.repeats,
        "back_url": reverse("image-series", args=[task.frame.series_id]),
        "heading": task.heading,
        "lead": f"{study.get_modality_display()} of {day_words(study.performed_on)}, "
        f"{task.frame.series}, {task.frame}",
        "basis": seen.spacing_of_frame(task.frame).sentence,
        "error": error,
        "fractured": sorted(fractured_levels(task.patient), key=LEVEL_CODES.index),
        "viewer": mark_data(task.frame, task.level, levels, task.view, marks, error.sd_mm)
        | {"mirrored": bool(task.marking and task.marking.mirrored)},
    }


def _frame(request: SignedInRequest, frame_id: int) -> ImageFrame:
    frame: ImageFrame = get_object_or_404(seen.frames_of_site(request.user.site), pk=frame_id)
    if not frame.series.is_settled:
        raise Http404
    return frame


def _marking(request: SignedInRequest, marking_id: int) -> Marking:
    marking: Marking = get_object_or_404(seen.markings_of_site(request.user.site), pk=marking_id)
    return marking
