"""The needles of one planned level."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_http_methods, require_POST

from planning.errors import PlanningError
from planning.forms.approach import ApproachForm
from planning.models import PlannedLevel
from planning.selectors.approach import approach_view, approaches_of
from planning.selectors.needle_marks import needle_marks
from planning.services.approach import approach_save, approach_take_marks
from planning.services.protocols import in_force
from planning.views.saving import save
from register.permissions import SignedInRequest, needs
from register.selectors.identity import identity_for


@needs("decide", "manage_lists")
@require_http_methods(["GET", "POST"])
def approach(request: SignedInRequest, planned_id: int) -> HttpResponse:
    """Both needles of a planned level; POST saves the side whose button was pressed."""
    rows = PlannedLevel.objects.live().select_related("plan__patient", "fracture__patient__site")
    level = get_object_or_404(rows, pk=planned_id, plan__patient__site=request.user.site)
    sent = request.POST.get("side") if request.method == "POST" else None
    forms = {
        side: ApproachForm(request.POST if side == sent else None, instance=row, prefix=side)
        for side, row in approaches_of(level).items()
    }
    form = forms.get(sent or "")
    if (
        form
        and form.is_valid()
        and save(
            request,
            form,
            f"{str(sent).capitalize()} needle of {level.fracture.level} saved.",
            lambda: approach_save(
                approach=form.instance,
                expected_version=form.expected_version,
                user=request.user,
                **form.values(),
            ),
        )
    ):
        return redirect("planned-approach", level.pk)
    values = in_force(request.user.site, localdate()).values
    context = {
        "level": level,
        "view": approach_view(level, approaches_of(level), values),
        "side_forms": forms,
        "marks": needle_marks(level.fracture),
        "forms": [form] if form else [],
        "identity": identity_for(level.plan.patient),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "planning/approach.html", context, status=status)


@needs("decide", "manage_lists")
@require_POST
def approach_take(request: SignedInRequest, planned_id: int) -> HttpResponse:
    """Take both needles from the newest marks on the images."""
    rows = PlannedLevel.objects.live().select_related("plan__patient", "fracture")
    level = get_object_or_404(rows, pk=planned_id, plan__patient__site=request.user.site)
    try:
        measured = needle_marks(level.fracture).approach(level.fracture.level)
        saved = approach_take_marks(level=level, measured=measured, user=request.user)
    except (ValueError, PlanningError, ValidationError) as error:
        words = error.messages if isinstance(error, ValidationError) else [str(error)]
        messages.error(request, " ".join(words))
        return redirect("planned-approach", level.pk)
    if not saved:
        messages.error(request, "No needle is marked on the images of this level yet.")
    for row in saved:
        messages.success(request, f"{row.get_side_display().capitalize()} needle taken.")
        far = measured.mismatch_mm.get(row.side)
        if far is not None:
            messages.info(
                request,
                f"{row.get_side_display().capitalize()}: both views differ by {far:.1f} mm in how "
                "far the needle goes forward. A large difference means another slice or level.",
            )
    return redirect("planned-approach", level.pk)
