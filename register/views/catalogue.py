"""Techniques and stock, kept by the administrator. No page here knows a patient."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_http_methods

from register.forms.catalogue import StockForm, TechniqueForm
from register.forms.editing import EditForm
from register.models import StockItem, Technique
from register.permissions import SignedInRequest, needs
from register.selectors import catalogue as reading
from register.services.stock import stock_change, stock_create
from register.services.techniques import technique_change, technique_create
from register.views.saving import save


@needs("manage_catalogue")
@require_GET
def techniques(request: SignedInRequest) -> HttpResponse:
    """The techniques with their approval."""
    context = {"techniques": reading.techniques_of(request.user.site)}
    return render(request, "register/catalogue/techniques.html", context)


@needs("manage_catalogue")
@require_http_methods(["GET", "POST"])
def technique_new(request: SignedInRequest) -> HttpResponse:
    """Add a technique."""
    site = request.user.site
    form = TechniqueForm(request.POST or None, instance=Technique(site=site), site=site)
    if form.is_valid():
        saved = save(
            request,
            form,
            f"{form.cleaned_data['name']} added.",
            lambda: technique_create(
                site=site,
                user=request.user,
                operators=form.cleaned_data["operators"],
                **form.values(),
            ),
        )
        if saved:
            return redirect("techniques")
    return _form_page(request, form, "New technique", "techniques", "Techniques")


@needs("manage_catalogue")
@require_http_methods(["GET", "POST"])
def technique_edit(request: SignedInRequest, technique_id: int) -> HttpResponse:
    """Change a technique, its approval, or who may operate."""
    site = request.user.site
    technique = get_object_or_404(reading.techniques_of(site), pk=technique_id)
    form = TechniqueForm(request.POST or None, instance=technique, site=site)
    if form.is_valid():
        saved = save(
            request,
            form,
            f"{form.cleaned_data['name']} saved.",
            lambda: technique_change(
                technique=technique,
                expected_version=form.expected_version,
                user=request.user,
                operators=form.cleaned_data["operators"],
                **form.values(),
            ),
        )
        if saved:
            return redirect("techniques")
    return _form_page(request, form, "Technique", "techniques", "Techniques")


@needs("manage_catalogue")
@require_GET
def stock(request: SignedInRequest) -> HttpResponse:
    """What is on the shelf, and what has to be ordered or taken away."""
    rows = reading.stock_rows(reading.stock_of(request.user.site), on=localdate())
    return render(request, "register/catalogue/stock.html", {"rows": rows})


@needs("manage_catalogue")
@require_http_methods(["GET", "POST"])
def stock_new(request: SignedInRequest) -> HttpResponse:
    """Put a lot on the shelf."""
    site = request.user.site
    form = StockForm(request.POST or None, instance=StockItem(site=site))
    if form.is_valid():
        saved = save(
            request,
            form,
            f"{form.instance} added.",
            lambda: stock_create(site=site, user=request.user, **form.values()),
        )
        if saved:
            return redirect("stock")
    return _form_page(request, form, "New lot", "stock", "Stock")


@needs("manage_catalogue")
@require_http_methods(["GET", "POST"])
def stock_edit(request: SignedInRequest, item_id: int) -> HttpResponse:
    """Correct a lot: its number, its last day, a recall."""
    item = get_object_or_404(reading.stock_of(request.user.site), pk=item_id)
    form = StockForm(request.POST or None, instance=item)
    if form.is_valid():
        saved = save(
            request,
            form,
            f"{form.instance} saved.",
            lambda: stock_change(
                item=item,
                expected_version=form.expected_version,
                user=request.user,
                **form.values(),
            ),
        )
        if saved:
            return redirect("stock")
    return _form_page(request, form, "Lot", "stock", "Stock")


def _form_page(
    request: SignedInRequest, form: EditForm, heading: str, back: str, back_words: str
) -> HttpResponse:
    context = {"form": form, "heading": heading, "back": back, "back_words": back_words}
    status = 422 if form.is_bound else 200
    return render(request, "register/catalogue/form.html", context, status=status)
