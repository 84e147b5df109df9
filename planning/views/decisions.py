"""Deciding on one fracture: the assessment as shown, the choice, the reason."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_http_methods

from planning.errors import PlanningError
from planning.forms.decisions import DecisionForm
from planning.models import Assessment
from planning.rules.outcomes import Stage
from planning.selectors.verdicts import view_of
from planning.services.decisions import decision_record, freshness_of, newest_assessment
from planning.views.record import fracture_or_404, record_address
from register.domain.vocabulary import FRACTURE_STATE, words_for
from register.models import Fracture
from register.permissions import SignedInRequest, needs
from register.selectors.identity import identity_for
from register.services.editing import EditConflict


@needs("decide")
@require_http_methods(["GET", "POST"])
def decide(request: SignedInRequest, fracture_id: int) -> HttpResponse:
    """Show what the rules say and take the decision of a consultant."""
    fracture = fracture_or_404(request, fracture_id)
    assessment = newest_assessment(fracture)
    form = DecisionForm(
        request.POST or None, fracture=fracture, assessment=assessment, user=request.user
    )
    if form.is_valid() and _saved(request, form, fracture):
        return redirect(record_address(fracture))
    if form.is_bound:
        form.show_newest(assessment=assessment.pk if assessment else None)
    return render(
        request,
        "planning/decide.html",
        _context(form, fracture, assessment),
        status=422 if form.is_bound else 200,
    )


def _saved(request: SignedInRequest, form: DecisionForm, fracture: Fracture) -> bool:
    """Save, or put the reason why not beside what was typed."""
    try:
        decision = decision_record(fracture=fracture, made_by=request.user, **form.values())
    except PlanningError as problem:
        field = "second_name" if problem.code.startswith("second-name") else None
        form.add_error(field, str(problem))
    except ValidationError as problem:
        form.add_error(None, problem)
    except EditConflict as conflict:
        state = words_for(FRACTURE_STATE, conflict.theirs["state"])
        form.add_error(None, f"{conflict} The fracture is now: {state}.")
        form.show_newest(version=conflict.version)
    else:
        messages.success(
            request, f"Decision on {fracture.level} saved: {decision.get_route_display()}."
        )
        return True
    return False


def _context(
    form: DecisionForm, fracture: Fracture, assessment: Assessment | None
) -> dict[str, object]:
    fresh = freshness_of(assessment, on=localdate()) if assessment else None
    triage_only = assessment is not None and assessment.stage == Stage.TRIAGE
    return {
        "form": form,
        "fracture": fracture,
        "view": view_of(assessment, fresh) if assessment else None,
        "triage_only": triage_only,
        "must_assess": assessment is None or triage_only or not (fresh and fresh.is_current),
        "earlier": fracture.decisions.live().select_related("made_by", "second_name"),
        "identity": identity_for(fracture.patient),
        "identity_url": record_address(fracture),
        "record_url": record_address(fracture),
    }
