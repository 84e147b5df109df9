"""Forms of the administrator about one account's sign-in."""

from typing import Any

from django import forms

from register.forms.base import RegisterForm
from register.forms.layout import Save, helper
from register.models import User


class SecondFactorResetForm(RegisterForm):
    """Why a second factor is taken away; a word is not a reason."""

    reason = forms.CharField(
        label="Reason",
        min_length=10,
        max_length=200,
        help_text="The person reads it. For example: telephone lost on the ward, asked in person",
        error_messages={
            "required": "Say why the second factor is taken away.",
            "min_length": "Give the reason in at least a few words.",
        },
    )

    def __init__(self, *args: Any, person: User, **options: Any) -> None:
        super().__init__(*args, **options)
        button = Save("Take the second factor away", wait="Taking away…", serious=True)
        self.helper = helper("reason", save=button, whose=str(person))
