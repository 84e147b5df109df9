"""How a file is read: its dates, its letters or sheet, and what its columns hold."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_http_methods, require_POST

from register.forms.imports import ColumnsForm, HowReadForm
from register.imports.decoding import FileRefused
from register.imports.kinds import KINDS
from register.imports.mapping import questions_of
from register.models import FileImport
from register.permissions import SignedInRequest, needs
from register.selectors.imports import question_of, table_of
from register.services import imports as writing
from register.views.imports import kept_or_404
from register.views.sent import version_sent


@needs("refer")
@require_http_methods(["GET", "POST"])
def referral_import_reading(request: SignedInRequest, import_id: int) -> HttpResponse:
    """Say how a waiting file is read; a POST answers for the file or for its columns."""
    kept = kept_or_404(request, import_id)
    if kept.confirmed_at is not None:
        return redirect("referral-import", kept.pk)
    of_file = HowReadForm(request.POST if "read" in request.POST else None, kept=kept)
    columns = _columns_form(request, kept)
    for form in (of_file, columns):
        if form is not None and form.is_valid() and _taken(request, kept, form):
            return redirect("referral-import", kept.pk)
    forms = [form for form in (columns, of_file) if form is not None]
    context = {
        "kept": kept,
        "kind": KINDS[kept.kind],
        "question": question_of(kept),
        "of_file": of_file,
        "columns": columns,
        "forms": forms,
        "has_errors": any(form.is_bound and form.errors for form in forms),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "register/imports/reading.html", context, status=status)


@needs("refer")
@require_POST
def referral_import_letters(request: SignedInRequest, import_id: int) -> HttpResponse:
    """A person has found the doubtful words right."""
    kept = kept_or_404(request, import_id)
    try:
        writing.import_letters_right(
            kept=kept, expected_version=version_sent(request), user=request.user
        )
    except writing.ImportRefused as error:
        messages.error(request, str(error))
    else:
        messages.success(request, "The words are noted as right.")
    return redirect("referral-import", kept.pk)


def _columns_form(request: SignedInRequest, kept: FileImport) -> ColumnsForm | None:
    """Return the questions about the columns; None while the table itself cannot be told."""
    try:
        table = table_of(kept)
    except FileRefused:
        return None
    columns = KINDS[kept.kind].columns
    data = request.POST if "choose" in request.POST else None
    questions = questions_of(table, columns)
    return ColumnsForm(data, questions=questions, columns=columns, mapping=kept.mapping)


def _taken(request: SignedInRequest, kept: FileImport, form: Any) -> bool:
    """Whether the service took what was said; its refusal is told in the form."""
    said: dict[str, Any] = {"kept": kept, "user": request.user}
    said["expected_version"] = version_sent(request)
    try:
        if isinstance(form, ColumnsForm):
            writing.import_columns_choose(**said, chosen=form.chosen, today=localdate())
        else:
            given = {name: form.cleaned_data.get(name, "") for name in ("code_page", "sheet")}
            order = form.cleaned_data["date_order"]
            writing.import_read_anew(**said, **given, date_order=order, today=localdate())
    except (writing.ImportRefused, FileRefused) as error:
        form.add_error(None, str(error))
        return False
    return True
