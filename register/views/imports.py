"""Files that are sent in: keep one, look at what would happen, confirm."""

from typing import Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from register.forms.imports import FileForm
from register.imports.decoding import FileRefused
from register.imports.files import empty_file, empty_workbook, refused_file
from register.imports.kinds import KINDS
from register.imports.preview import lines_of
from register.imports.verdicts import COUNTED
from register.models import FileImport
from register.permissions import SignedInRequest, may, needs
from register.selectors.import_progress import patience_words, progress_of
from register.selectors.import_undo_words import left_lines
from register.selectors.imports import Preview, imports_of, preview_of, question_of
from register.services import imports as writing
from register.views.saving import posted
from register.views.sent import version_sent

ROWS: Final = 50
LINES: Final = 100
WORDS: Final = 60  # doubtful words that are shown at once
# Where one goes on after a file of each kind: page, words, and the right that the page needs.
_GO_ON: Final = {
    "referrals": ("waiting", "To the list of waiting", "see_patients"),
    "scores": ("follow-up-due", "To the list of contacts due", "follow_up"),
    "theatre_log": ("theatre-log", "Compare the log with the register", "compare_log"),
    "procedures": ("patient-search", "To the patients", "see_patients"),
}
_TYPES: Final = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


@needs("refer")
@require_http_methods(["GET", "POST"])
def referral_imports(request: SignedInRequest) -> HttpResponse:
    """The files sent in so far, and the box for another."""
    data = posted(request)
    form = FileForm(data, None if data is None else request.FILES)
    if form.is_valid() and (kept := _keep(request, form)) is not None:
        return redirect("referral-import", kept.pk)
    page = Paginator(imports_of(request.user.site), ROWS).get_page(request.GET.get("page"))
    context = {
        "form": form,
        "page": page,
        "pages": page.paginator.get_elided_page_range(page.number),
        "kinds": [(dict(form.fields["kind"].choices)[code], kind) for code, kind in KINDS.items()],  # type: ignore[attr-defined]
    }
    status = 422 if form.is_bound else 200
    return render(request, "register/imports/list.html", context, status=status)


@needs("refer")
@require_http_methods(["GET", "POST"])
def referral_import(request: SignedInRequest, import_id: int) -> HttpResponse:
    """What would become of each row; POST confirms exactly what was seen."""
    kept = kept_or_404(request, import_id)
    if progress := progress_of(kept):
        context = {"kept": kept, "progress": progress}
        status = 409 if request.method == "POST" else 200
        return render(request, "register/imports/writing.html", context, status=status)
    changed: list[writing.Changed] = []
    if request.method == "POST":
        try:
            kept = _confirm(request, kept)
        except writing.PreviewOutdated as outdated:
            changed = outdated.changed
        except (writing.ImportRefused, FileRefused) as error:
            messages.error(request, str(error))
        else:
            messages.success(request, f"{kept.file_name}: written.")
            return redirect("referral-import", kept.pk)
    if kept.confirmed_at is not None:
        return _outcome(request, kept)
    if question_of(kept) in ("sheet", "columns"):
        return redirect("referral-import-reading", kept.pk)
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
    kept = kept_or_404(request, import_id)
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
    """The rows that were left out with their reasons, to be corrected and sent again."""
    kept = kept_or_404(request, import_id)
    try:
        preview = preview_of(kept, today=localdate())
    except FileRefused as error:
        messages.error(request, str(error))
        return redirect("referral-import", kept.pk)
    refused = refused_file(preview.file, preview.verdicts, told=kept.counts.get("refusals"))
    return _download(refused, f"refused-rows-{kept.pk}", preview.file.how.form)


@needs("refer", names_nobody=True)
@require_GET
def referral_import_progress(request: SignedInRequest, import_id: int) -> HttpResponse:
    """How far the writing has come, for the bar beside the button; empty when nobody writes."""
    progress = progress_of(kept_or_404(request, import_id))
    return render(request, "register/imports/_progress.html", {"progress": progress})


@needs("refer", names_nobody=True)
@require_GET
def referral_import_empty(request: SignedInRequest, kind: str, form: str) -> HttpResponse:
    """A file with the head of a kind alone."""
    if kind not in KINDS or form not in _TYPES:
        raise Http404
    make = empty_workbook if form == "xlsx" else empty_file
    return _download(make(KINDS[kind]), kind.replace("_", "-"), form)


def kept_or_404(request: SignedInRequest, import_id: int) -> FileImport:
    """Return a file of the person's own site that was not set aside."""
    rows = FileImport.objects.live().select_related("uploaded_by", "confirmed_by", "site")
    return get_object_or_404(rows, pk=import_id, site=request.user.site, kind__in=KINDS)


def _keep(request: SignedInRequest, form: FileForm) -> FileImport | None:
    """Keep the file of a valid form; None when it was refused, with the reason in the form."""
    file, said = form.cleaned_data["file"], form.cleaned_data
    try:
        return writing.import_keep(
            site=request.user.site,
            user=request.user,
            file_name=file.name or "file",
            content=file.read(),
            kind=said["kind"],
            date_order=said["date_order"],
            code_page=said["code_page"],
            today=localdate(),
        )
    except FileRefused as error:
        form.add_error("file", str(error))
        return None


def _confirm(request: SignedInRequest, kept: FileImport) -> FileImport:
    return writing.import_confirm(
        kept=kept,
        user=request.user,
        seen=request.POST.get("seen", ""),
        version=version_sent(request),
        today=localdate(),
    )


def _preview(
    request: SignedInRequest, kept: FileImport, preview: Preview, changed: list[writing.Changed]
) -> HttpResponse:
    shown = request.GET.get("show", "")
    verdicts = [v for v in preview.verdicts if shown in ("", v.kind.value)]
    page = Paginator(verdicts, LINES).get_page(request.GET.get("page"))
    doubtful = preview.file.how.doubtful
    context = {
        "kept": kept,
        "preview": preview,
        "legend": _legend(preview.counts),
        "shown": shown,
        "page": page,
        "lines": lines_of(preview.file, page.object_list),
        "pages": page.paginator.get_elided_page_range(page.number),
        "query": f"show={shown}&" if shown else "",
        "changed": changed,
        "earlier": _earlier(request, kept),
        "doubtful": doubtful[:WORDS] if question_of(kept) == "letters" else (),
        "doubtful_more": doubtful[WORDS:],
        "patience": patience_words(len(preview.to_write)),
    }
    status = 409 if changed else 200
    return render(request, "register/imports/preview.html", context, status=status)


def _outcome(request: SignedInRequest, kept: FileImport) -> HttpResponse:
    refusals = [(number, reasons) for number, *reasons in kept.counts.get("refusals", [])]
    context = {
        "kept": kept,
        "legend": _legend(kept.counts),
        "refusals": refusals,
        "left": left_lines(kept),
        "next_step": _next_step(request, kept),
    }
    return render(request, "register/imports/outcome.html", context)


def _next_step(request: SignedInRequest, kept: FileImport) -> tuple[str, str] | None:
    """Return the page to go on with after a file, and its words; None without the right to it."""
    page, words, right = _GO_ON[kept.kind]
    return (page, words) if may(request.user, right) else None


def _legend(counts: dict[str, int]) -> list[tuple[str, str, int]]:
    return [(code, words, counts.get(code, 0)) for code, words in COUNTED]


def _earlier(request: SignedInRequest, kept: FileImport) -> FileImport | None:
    """Return the last time that the very same file was confirmed and not undone since."""
    same = imports_of(request.user.site).filter(sha256=kept.sha256, kind=kept.kind)
    return same.filter(undone_at=None).exclude(confirmed_at=None).first()


def _download(content: bytes, name: str, form: str) -> HttpResponse:
    response = HttpResponse(content, content_type=_TYPES[form])
    response["Content-Disposition"] = f'attachment; filename="{name}.{form}"'
    return response
