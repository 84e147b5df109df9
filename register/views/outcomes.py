"""Follow-up: the due list, one contact with its scores, attempts, and how it ends."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from register.domain.days import day_words
from register.domain.protocol import ProtocolValues
from register.domain.vocabulary import REVIEW_END, words_for
from register.forms.editing import tell_problems
from register.forms.outcomes import GROUPS, AttemptForm, DueFilter, EndForm
from register.forms.reviews import ReviewForm
from register.models import Draft, Patient, Review, Site
from register.permissions import SignedInRequest, needs
from register.selectors import outcomes as reading
from register.selectors import review_pages as pages
from register.selectors.identity import identity_for
from register.selectors.protocols import values_in_force
from register.services import outcomes as writing
from register.services.drafts import draft_keep
from register.services.editing import EditConflict
from register.services.receipts import AlreadyTaken
from register.views.drafts import is_thrown_away, throw_away
from register.views.saving import patient_or_404, patient_page

ROWS = 50


@needs("follow_up")
@require_GET
def follow_up_due(request: SignedInRequest) -> HttpResponse:
    """Whom to reach today: overdue, due, soon; filters in the address."""
    site, today, protocol = _site(request), localdate(), _protocol(request)
    narrowed = _narrowed(request, protocol)
    everybody = reading.due_reviews(site=site, on=today)
    listed = reading.due_filtered(everybody, **narrowed.chosen())
    page = Paginator(pages.with_lines(listed), ROWS).get_page(request.GET.get("page"))
    similar, counts = reading.similar_in(listed), reading.due_counts(everybody)
    context = {
        "filter": narrowed,
        "page": page,
        "pages": page.paginator.get_elided_page_range(page.number),
        "query": narrowed.query(),
        "groups": _group_links(counts, narrowed),
        "rows": pages.due_rows(page, similar=similar, protocol=protocol, on=today),
        "summary": pages.due_summary(counts, reading.ended_counts(site=site, on=today), today),
    }
    return render(request, "register/follow_up/due.html", context)


@needs("follow_up")
@require_http_methods(["GET", "POST"])
def review(request: SignedInRequest, review_id: int) -> HttpResponse:
    """One contact: its scores typed by keyboard, or amended."""
    found, protocol = _review(request, review_id), _protocol(request)
    entry, narrowed = _entry(found, protocol), _narrowed(request, protocol)
    draft = Draft.objects.filter(user=request.user, form=writing.draft_name(found)).first()
    if request.method == "GET":
        form = ReviewForm(entry=entry)
        form.restore(draft.data if draft else {})
        return _review_page(request, form, draft, narrowed)
    form = ReviewForm(request.POST, entry=entry)
    if form.is_valid() and _record(request, form):
        return redirect(_address(narrowed, "follow-up-due"))
    return _review_page(request, form, None, narrowed)


def _record(request: SignedInRequest, form: ReviewForm) -> bool:
    """Save the contact; say so, or put the reason into the form."""
    found = form.entry.review
    try:
        writing.review_record(
            review=found,
            expected_version=form.cleaned_data["version"],
            scores=form.score_entries(),
            fields=form.review_fields(),
            token=form.cleaned_data["token"],
            user=request.user,
            reason=form.cleaned_data.get("why_changed", ""),
        )
    except EditConflict as conflict:
        now = _entry(_review(request, found.pk), _protocol(request))
        form.show_conflict(conflict, now)
        return False
    except ValidationError as problem:
        tell_problems(form, problem)
        return False
    except AlreadyTaken:
        pass  # the first press saved it
    held_on = day_words(form.cleaned_data["held_on"])
    messages.success(request, f"{found.patient}: {form.entry.heading.lower()}, {held_on}, saved.")
    return True


def _review_page(
    request: SignedInRequest, form: ReviewForm, draft: Draft | None, narrowed: DueFilter
) -> HttpResponse:
    found = form.entry.review
    context = {
        "entry": form.entry,
        "review": found,
        "draft": draft,
        "is_thrown_away": is_thrown_away(request, writing.draft_name(found)),
        "list_url": _address(narrowed, "follow-up-due"),
        "attempt_url": _address(narrowed, "attempt-new", found.pk),
        "ended": pages.end_words(found.patient),
        "left": pages.days_left_words(found, localdate()),
        "tries": pages.tries_words(list(found.attempts.all())),
        "phones": [pages.phone_words(phone) for phone in found.patient.phones.all()],
        "instruction": found.patient.site.urgent_instruction,
    }
    return patient_page(request, found.patient, "register/follow_up/review.html", form, **context)


@needs("follow_up", names_nobody=True)
@require_POST
def review_draft(request: SignedInRequest, review_id: int) -> HttpResponse:
    """Keep unfinished typing, or throw it away, to be taken back on the same page."""
    name = writing.draft_name(_review(request, review_id))
    if "give_up" in request.POST:
        draft = Draft.objects.filter(user=request.user, form=name).first()
        if draft is not None:
            throw_away(request, draft, back=reverse("review", args=[review_id]))
        return redirect("review", review_id)
    typed = dict(request.POST.lists())
    typed.pop("csrfmiddlewaretoken", None)
    try:
        draft_keep(user=request.user, form=name, data=typed)
    except ValueError as problem:
        return JsonResponse({"words": str(problem)}, status=422)
    return JsonResponse({"words": "Typing kept."})


@needs("follow_up")
@require_http_methods(["GET", "POST"])
def attempt_new(request: SignedInRequest, review_id: int) -> HttpResponse:
    """Note a try to reach somebody; once reached, the scores come next."""
    found, protocol = _review(request, review_id), _protocol(request)
    narrowed = _narrowed(request, protocol)
    form = AttemptForm(request.POST or None, review=found)
    if form.is_valid():
        try:
            writing.attempt_record(
                review=found,
                token=form.cleaned_data["token"],
                user=request.user,
                **form.attempt_fields(),
            )
        except ValidationError as problem:
            tell_problems(form, problem)
        except AlreadyTaken:
            return _after_attempt(request, found, form, narrowed)
        else:
            return _after_attempt(request, found, form, narrowed)
    attempts = list(found.attempts.all())
    context = {
        "entry": _entry(found, protocol),
        "review": found,
        "attempts": attempts,
        "review_url": _address(narrowed, "review", found.pk),
        "tries": pages.tries_words(attempts),
        "phones": [pages.phone_words(phone) for phone in found.patient.phones.all()],
    }
    return patient_page(request, found.patient, "register/follow_up/attempt.html", form, **context)


def _after_attempt(
    request: SignedInRequest, found: Review, form: AttemptForm, narrowed: DueFilter
) -> HttpResponse:
    outcome = form.cleaned_data["outcome"]
    messages.success(request, f"{found.patient}: attempt saved, {form.outcome_words}.")
    if outcome == "reached":
        return redirect(_address(narrowed, "review", found.pk))
    return redirect(_address(narrowed, "follow-up-due"))


@needs("follow_up")
@require_http_methods(["GET", "POST"])
def follow_up_end(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """Record how follow-up ended: first what follows from it is named, then it is confirmed."""
    patient = patient_or_404(request, patient_id)
    form = EndForm(request.POST or None, patient=patient)
    is_asked = form.is_valid() and request.POST.get("confirmed") != form.decision
    if form.is_valid() and not is_asked and _end(request, patient, form):
        return redirect("course", patient.pk)
    context = {
        "form": form,
        "patient": patient,
        "identity": identity_for(patient),
        "consequences": _consequences(patient, form) if is_asked else (),
        "is_asked": is_asked,
    }
    status = 422 if form.is_bound and not is_asked else 200
    return render(request, "register/follow_up/end.html", context, status=status)


def _consequences(patient: Patient, form: EndForm) -> list[str]:
    given = form.cleaned_data
    return pages.end_consequences(patient, end=given["end"], ended_on=given["ended_on"])


def _end(request: SignedInRequest, patient: Patient, form: EndForm) -> bool:
    given = form.cleaned_data
    try:
        writing.follow_up_end(
            patient=patient,
            expected_version=given["version"],
            end=given["end"],
            ended_on=given["ended_on"],
            source=given["source"],
            user=request.user,
        )
    except (EditConflict, ValidationError) as problem:
        form.refuse(problem)
        return False
    told = words_for(REVIEW_END, given["end"]) if given["end"] else "follow-up goes on"
    messages.success(request, f"{patient}: {told}, saved.")
    return True


def _site(request: SignedInRequest) -> Site:
    site = request.user.site
    assert site is not None  # the right to be here implies a site
    return site


def _review(request: SignedInRequest, review_id: int) -> Review:
    rows = pages.with_lines(reading.reviews_of_site(_site(request)))
    return get_object_or_404(rows.select_related("patient__site"), pk=review_id)


def _protocol(request: SignedInRequest) -> ProtocolValues:
    return values_in_force(site=_site(request), on=localdate())


def _entry(found: Review, protocol: ProtocolValues) -> pages.ReviewEntry:
    return pages.review_entry(found, protocol=protocol, on=localdate())


def _narrowed(request: SignedInRequest, protocol: ProtocolValues) -> DueFilter:
    """Return the filters of the due list that the address of a page carries."""
    asked = [(point.code, point.title) for point in protocol.timepoints if point.asked]
    return DueFilter(request.GET, timepoints=asked)


def _address(narrowed: DueFilter, page: str, *args: int) -> str:
    """Return the address of a page with the filters of the due list that led here."""
    return f"{reverse(page, args=args)}?{narrowed.query()}".rstrip("?&")


def _group_links(counts: dict[str, int], narrowed: DueFilter) -> list[dict[str, Any]]:
    open_now = sum(number for group, number in counts.items() if group != "closed")
    return [
        {
            "words": words,
            "count": counts.get(group, open_now),
            "query": narrowed.query(group=group),
            "is_current": narrowed.chosen().get("group", "") == group,
        }
        for group, words in GROUPS
    ]
