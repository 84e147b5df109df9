"""Referral files: send one in, look at what would happen, confirm."""

from typing import Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from register.forms.imports import ReferralFileForm
from register.imports.decoding import FileRefused
from register.imports.files import empty_file, refused_file
from register.imports.kinds import KINDS
from register.imports.preview import lines_of
from register.imports.verdicts import COUNTED
from register.models import FileImport
from register.permissions import SignedInRequest, needs
from register.selectors.imports import Preview, imports_of, preview_of
from register.services import imports as writing
from register.views.saving import posted

ROWS: Final = 50
LINES: Final = 100


@needs("refer")
@require_http_methods(["GET", "POST"])
def referral_imports(request: SignedInRequest) -> HttpResponse:
    """The files sent in so far, and the box for another."""
    data = posted(request)
    form = ReferralFileForm(data, None if data is None else request.FILES)
    if form.is_valid():
        file = form.cleaned_data["file"]
        try:
            kept = writing.import_keep(
                site=request.user.site,
                user=request.user,
                file_name=file.name or "referrals.csv",
                content=file.read(),
                date_order=form.cleaned_data["date_order"],
                today=localdate(),
            )
        except FileRefused as error:
            form.add_error("file", str(error))
        else:
            return redirect("referral-import", kept.pk)
    page = Paginator(imports_of(request.user.site), ROWS).get_page(request.GET.get("page"))
    context = {
        "form": form,
        "page": page,
        "pages": page.paginator.get_elided_page_range(page.number),
        "columns": KINDS["referrals"].columns,
    }
    status = 422 if form.is_bound else 200
    return render(request, "register/imports/list.html", context, status=status)


@needs("refer")
@require_http_methods(["GET", "POST"])
def referral_import(request: SignedInRequest, import_id: int) -> HttpResponse:
    """What would become of each row; POST confirms exactly what was seen."""
    kept = _kept(request, import_id)
    changed: list[writing.Changed] = []
    if request.method == "POST":
        try:
            writing.import_confirm(
                kept=kept,
                user=request.user,
                seen=request.POST.get("seen", ""),
                today=localdate(),
            )
        except writing.PreviewOutdated as outdated:
            changed = outdated.changed
        except (writing.ImportRefused, FileRefused) as error:
            messages.error(request, str(error))
        else:
            messages.success(request, f"{kept.file_name}: referrals written.")
            return redirect("referral-import", kept.pk)
    if kept.confirmed_at is not None:
        return _outcome(request, kept)
    try:
        preview = preview_of(kept, today=localdate())
    except FileRefused as error:
        context = {"kept": kept, "refusal": str(error)}
        return render(request, "register/imports/unreadable.html", context, status=409)
    return _preview(request, kept, preview, changed)


@needs("refer")
@require_POST
def referral_import_aside(request: SignedInRequest, import_id: int) -> HttpResponse:
    """Set a file aside that is not to be written."""
    kept = _kept(request, import_id)
    try:
        writing.import_set_aside(kept=kept, user=request.user)
    except writing.ImportRefused as error:
        messages.error(request, str(error))
        return redirect("referral-import", kept.pk)
    messages.success(request, f"{kept.file_name} set aside. Nothing of it was written.")
    return redirect("referral-imports")


@needs("refer")
@require_GET
def referral_import_refused(request: SignedInRequest, import_id: int) -> HttpResponse:
    """The refused rows with their reasons, to be corrected and sent again."""
    kept = _kept(request, import_id)
    try:
        preview = preview_of(kept, today=localdate())
    except FileRefused as error:
        messages.error(request, str(error))
        return redirect("referral-import", kept.pk)
    refused = refused_file(preview.file, preview.verdicts, told=kept.counts.get("refusals"))
    return _csv(refused, f"refused-rows-{kept.pk}.csv")


@needs("refer", names_nobody=True)
@require_GET
def referral_import_empty(request: SignedInRequest) -> HttpResponse:
    """A file with the head alone."""
    return _csv(empty_file(KINDS["referrals"]), "referrals.csv")


def _kept(request: SignedInRequest, import_id: int) -> FileImport:
    rows = FileImport.objects.live().select_related("uploaded_by", "confirmed_by", "site")
    return get_object_or_404(rows, pk=import_id, site=request.user.site, kind="referrals")


def _preview(
    request: SignedInRequest, kept: FileImport, preview: Preview, changed: list[writing.Changed]
) -> HttpResponse:
    shown = request.GET.get("show", "")
    lines = [line for line in lines_of(preview.verdicts) if shown in ("", line.kind)]
    page = Paginator(lines, LINES).get_page(request.GET.get("page"))
    context = {
        "kept": kept,
        "preview": preview,
        "legend": [(code, words, preview.counts[code]) for code, words in COUNTED],
        "shown": shown,
        "page": page,
        "pages": page.paginator.get_elided_page_range(page.number),
        "query": f"show={shown}&" if shown else "",
        "changed": changed,
        "earlier": imports_of(request.user.site)
        .filter(sha256=kept.sha256)
        .exclude(confirmed_at=None)
        .first(),
    }
    status = 409 if changed else 200
    return render(request, "register/imports/preview.html", context, status=status)


def _outcome(request: SignedInRequest, kept: FileImport) -> HttpResponse:
    refusals = [(number, reasons) for number, *reasons in kept.counts.get("refusals", [])]
    context = {
        "kept": kept,
        "legend": [(code, words, kept.counts.get(code, 0)) for code, words in COUNTED],
        "refusals": refusals,
    }
    return render(request, "register/imports/outcome.html", context)


def _csv(content: bytes, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
