"""Theatre sessions, their lists, and the printed list."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from planning.errors import PlanningError
from planning.forms.theatre import CancelEntryForm, ListPlanForm, SessionFilter, SessionForm
from planning.models import ListEntry, TheatreSession
from planning.selectors import theatre as selectors
from planning.services import theatre as writing
from planning.views.saving import save
from register.paper import pdf, pdf_response
from register.permissions import SignedInRequest, needs
from register.selectors.identity import identity_for
from register.selectors.patients import with_similar_name
from register.views.saving import posted


@needs("see_patients")
@require_GET
def sessions(request: SignedInRequest) -> HttpResponse:
    """Coming sessions with how full they are, or past ones with ?past=1."""
    today = localdate()
    narrowed = SessionFilter(request.GET)
    past = bool(narrowed.chosen())
    if past:
        rows = selectors.past_sessions(request.user.site, before=today)[:60]
    else:
        rows = selectors.sessions(request.user.site, since=today)[:60]
    to_list = selectors.plans_to_list(request.user.site)
    context = {
        "sessions": rows,
        "past": past,
        "filter": narrowed,
        "to_list": to_list,
        "similar": with_similar_name([plan.patient for plan in to_list]),
    }
    return render(request, "planning/theatre_sessions.html", context)


@needs("manage_lists")
@require_http_methods(["GET", "POST"])
def session_new(request: SignedInRequest) -> HttpResponse:
    """Add a session."""
    new = TheatreSession(site=request.user.site)
    form = SessionForm(posted(request), site=request.user.site, instance=new)
    if form.is_valid():
        made = save(
            request,
            form,
            f"Session of {form.instance} added.",
            lambda: writing.session_create(
                site=request.user.site, user=request.user, **form.values()
            ),
        )
        if made:
            there = isinstance(made, TheatreSession)
            return redirect("theatre-session", made.pk) if there else redirect("theatre-sessions")
    return _form_page(request, form, "New theatre session")


@needs("manage_lists")
@require_http_methods(["GET", "POST"])
def session_edit(request: SignedInRequest, session_id: int) -> HttpResponse:
    """Change or cancel a session."""
    found = _session(request, session_id)
    form = SessionForm(posted(request), site=request.user.site, instance=found)
    if form.is_valid() and save(
        request,
        form,
        f"Session of {found} saved.",
        lambda: writing.session_change(
            session=form.instance,
            expected_version=form.expected_version,
            user=request.user,
            **form.values(),
        ),
    ):
        return redirect("theatre-session", found.pk)
    return _form_page(request, form, f"Theatre session of {_session(request, session_id)}")


@needs("manage_lists", "see_patients")
@require_http_methods(["GET", "POST"])
def session(request: SignedInRequest, session_id: int) -> HttpResponse:
    """The list of a session; POST puts an approved plan at its end."""
    found = _session(request, session_id)
    plans = selectors.plans_to_list(request.user.site)
    shown = selectors.theatre_list(found)
    form = ListPlanForm(
        posted(request), plans=plans, similar=selectors.similar_beside(shown, plans)
    )
    if form.is_valid():
        who = form.cleaned_data["plan"].patient
        if save(
            request,
            form,
            f"{who} is on the list.",
            lambda: writing.entry_add(
                session=found,
                user=request.user,
                plan=form.cleaned_data["plan"],
                minutes=form.cleaned_data["minutes"],
            ),
        ):
            return redirect("theatre-session", found.pk)
    context = {"list": shown, "session": found, "form": form}
    return render(
        request, "planning/theatre_session.html", context, status=422 if form.is_bound else 200
    )


@needs("manage_lists")
@require_POST
def entry_move(request: SignedInRequest, entry_id: int, direction: str) -> HttpResponse:
    """Swap a case with the one before or after it."""
    entry = _entry(request, entry_id)
    if not writing.entry_move(entry=entry, up=direction == "up", user=request.user):
        messages.info(request, "The case already stands at that end of the list.")
    return redirect("theatre-session", entry.session_id)


@needs("manage_lists")
@require_http_methods(["GET", "POST"])
def entry_cancel(request: SignedInRequest, entry_id: int) -> HttpResponse:
    """Take a case off its list, with the reason."""
    entry = _entry(request, entry_id)
    form = CancelEntryForm(request.POST or None)
    if form.is_valid():
        try:
            reason = form.cleaned_data["reason"]
            writing.entry_cancel(entry=entry, user=request.user, reason=reason)
        except PlanningError as problem:
            form.add_error(None, str(problem))
        else:
            messages.success(request, f"{entry.plan.patient} was taken off the list.")
            return redirect("theatre-session", entry.session_id)
    heading = f"Take this case off the list of {entry.session}"
    return _form_page(
        request,
        form,
        heading,
        lead="The plan stays approved and waits for another place.",
        button="Take it off the list",
        waiting="Taking it off…",
        identity=identity_for(entry.plan.patient),
        cancel_url=reverse("theatre-session", args=[entry.session_id]),
    )


@needs("see_patients")
@require_GET
def list_pdf(request: SignedInRequest, session_id: int) -> HttpResponse:
    """The list as PDF."""
    found = _session(request, session_id)
    data = list_document(found)
    return pdf_response(data, f"theatre-list-{found.held_on:%Y-%m-%d}.pdf")


def list_document(found: TheatreSession) -> bytes:
    """Render the list of a session; also used by the command that drives the main job."""
    data, _ = pdf(
        "planning/pdf/theatre_list.html",
        {
            "list": selectors.theatre_list(found),
            "session": found,
            "title": f"Theatre list, {found.held_on:%d %b %Y}",
            "site": found.site,
            "dated": localdate(),
            "printed": f"Printed on {localdate():%d %b %Y}",
        },
    )
    return data


def _session(request: SignedInRequest, session_id: int) -> TheatreSession:
    rows = TheatreSession.objects.live().select_related("site", "consultant")
    return get_object_or_404(rows, pk=session_id, site=request.user.site)


def _entry(request: SignedInRequest, entry_id: int) -> ListEntry:
    rows = ListEntry.objects.live().select_related("session__site", "plan__patient")
    return get_object_or_404(rows, pk=entry_id, session__site=request.user.site)


def _form_page(
    request: SignedInRequest, form: object, heading: str, **context: object
) -> HttpResponse:
    bound = getattr(form, "is_bound", False)
    context = {"cancel_url": reverse("theatre-sessions")} | context
    context |= {"form": form, "heading": heading}
    return render(request, "planning/form_page.html", context, status=422 if bound else 200)
