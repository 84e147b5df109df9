"""Saving a planning form: as register.views.saving, with the refusals of planning told too."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import ValidationError

from planning.errors import PlanningError
from register.permissions import SignedInRequest
from register.views import saving


def save(request: SignedInRequest, form: Any, words: str, write: Callable[[], Any]) -> Any:
    """Run a service for a valid form; see register.views.saving.save."""

    def told() -> Any:
        try:
            return write()
        except PlanningError as problem:
            raise ValidationError(str(problem)) from problem

    return saving.save(request, form, words, told)
