"""What pages that change a record share: find it, save or tell why not."""

from collections.abc import Callable, Iterable
from typing import Any, Final

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.forms.formsets import BaseFormSet
from django.http import HttpResponse, QueryDict
from django.shortcuts import render

from register.forms.editing import PartForm, tell_problems
from register.history import acting
from register.models import Patient
from register.permissions import SignedInRequest
from register.selectors.identity import identity_for
from register.services.editing import EditConflict
from register.services.receipts import AlreadyTaken, form_take
from register.services.records import PartConflict
from register.views.set_aside import live_patient

SAVED_BEFORE: Final = "This form was saved already. Nothing was saved twice."


def posted(request: SignedInRequest) -> QueryDict | None:
    """Return what was posted, be it nothing at all; None when the page was only asked for."""
    return request.POST if request.method == "POST" else None


def patient_or_404(request: SignedInRequest, patient_id: int) -> Patient:
    """Return a live patient of the person's own site; see `live_patient` for all others."""
    return live_patient(request.user.site, patient_id)


def save(
    request: SignedInRequest,
    form: Any,
    words: str,
    write: Callable[[], Any],
    *,
    parts: Iterable[PartForm] = (),
) -> Any:
    """Run a service for a valid form; return what it wrote (True for nothing), False when refused.

    A refusal is told in the form. A form that carries a one-time token counts
    once: the second time nothing is written, and the answer is True. `words`
    name what was saved; `parts` are the forms of parts that can conflict by themselves.
    """
    try:
        with acting(request.user, words):
            if token := form.cleaned_data.get("token"):
                form_take(token=token, content=_typed(request), user=request.user)
            written = write()
    except AlreadyTaken:
        messages.info(request, SAVED_BEFORE)
        return True
    except EditConflict as error:
        form.show_conflict(error)
        return False
    except PartConflict as error:
        _tell_part(form, parts, error)
        return False
    except ValidationError as error:
        tell_problems(form, error)
        return False
    messages.success(request, words)
    return written or True


def patient_page(
    request: SignedInRequest, patient: Patient, template: str, form: Any, **context: Any
) -> HttpResponse:
    """Answer with a page about one patient: 422 when a form came back."""
    context |= {"patient": patient, "identity": identity_for(patient), "form": form}
    context["has_errors"] = any(_has_errors(part) for part in context.get("forms", ()))
    return render(request, template, context, status=422 if form.is_bound else 200)


def _has_errors(part: Any) -> bool:
    """Whether a form or a list of forms came back with errors; only a bound one can."""
    if not part.is_bound:
        return False
    return bool(part.total_error_count() if isinstance(part, BaseFormSet) else part.errors)


def _typed(request: SignedInRequest) -> dict[str, list[str]]:
    """Return what was typed, without the keys of the page itself."""
    own = {"csrfmiddlewaretoken", "token"}
    return {name: values for name, values in request.POST.lists() if name not in own}


def _tell_part(form: Any, parts: Iterable[PartForm], error: PartConflict) -> None:
    """Tell both values beside the part; on top of the page when it is not on the page."""
    for part in parts:
        if isinstance(part.instance, type(error.part)) and part.instance.pk == error.part.pk:
            part.show_conflict(error.error)
            return
    form.add_error(None, str(error))
