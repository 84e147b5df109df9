"""Undoing an import: the exact list of what would happen, a reason, and once more the same list."""

from typing import Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from register.forms.imports import UndoForm
from register.models import FileImport
from register.permissions import SignedInRequest, needs
from register.selectors.import_undo import UndoPlan, undo_plan
from register.selectors.import_undo_words import LINE_KINDS, undo_lines
from register.services.import_confirm import ImportRefused
from register.services.import_undo import UndoOutdated, import_undo, undo_refuse
from register.views.imports import kept_or_404
from register.views.saving import posted

LINES: Final = 100


@needs("refer")
@require_http_methods(["GET", "POST"])
def undo_page(request: SignedInRequest, import_id: int) -> HttpResponse:
    """What undoing would do to each row; POST with a reason does exactly what was seen."""
    kept = kept_or_404(request, import_id)
    try:
        undo_refuse(kept)
    except ImportRefused as refused:
        messages.error(request, str(refused))
        return redirect("referral-import", kept.pk)
    plan = undo_plan(kept)
    form = UndoForm(posted(request), initial={"seen": plan.seal})
    if form.is_valid():
        try:
            kept = import_undo(kept=kept, user=request.user, **form.typed())
        except UndoOutdated as outdated:
            form.show_again(str(outdated), outdated.plan.seal)
            plan = outdated.plan
        except ImportRefused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"{kept.file_name}: import undone.")
            return redirect("referral-import", kept.pk)
    return _page(request, kept, plan, form)


def _page(
    request: SignedInRequest, kept: FileImport, plan: UndoPlan, form: UndoForm
) -> HttpResponse:
    shown = request.GET.get("show", "left" if plan.left else "voided")
    lines = Paginator(plan.keys_of(shown), LINES).get_page(request.GET.get("page"))
    context = {
        "kept": kept,
        "plan": plan,
        "form": form,
        "legend": [(code, words, len(plan.keys_of(code))) for code, words in LINE_KINDS],
        "shown": shown,
        "page": lines,
        "lines": undo_lines(lines.object_list, plan),
        "pages": lines.paginator.get_elided_page_range(lines.number),
        "query": f"show={shown}&",
    }
    status = 422 if form.is_bound else 200
    return render(request, "register/imports/undo.html", context, status=status)
