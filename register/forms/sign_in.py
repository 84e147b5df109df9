"""The sign-in library's forms, in the words of this register."""

from typing import Any

from allauth.account.forms import ChangePasswordForm, LoginForm, ReauthenticateForm
from allauth.mfa.base.forms import AuthenticateForm
from allauth.mfa.base.forms import ReauthenticateForm as CodeReauthenticateForm
from allauth.mfa.totp.forms import ActivateTOTPForm
from django import forms
from django.core.exceptions import ValidationError

NOT_THIS_KEY = (
    "This code does not fit the key. Wait for the next one and type its six digits; if that "
    "does not help either, set the clock of the device, or let it read the square again."
)
CODE_HELP = "Six digits from your device, or one of your recovery codes"


def say(form: forms.Form, name: str, label: str, help_text: str = "") -> None:
    """Give a box our label, the message for leaving it empty, and no grey words inside."""
    field = form.fields[name]
    field.label, field.help_text = label, help_text
    field.error_messages["required"] = f"{label}: type it."
    field.widget.attrs.pop("placeholder", None)


class SignInForm(LoginForm):
    """User name and passphrase."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        say(self, "login", "User name")
        say(self, "password", "Passphrase")


class OwnPassphraseForm(ChangePasswordForm):
    """A new passphrase of one's own; every other session ends."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        say(self, "oldpassword", "Passphrase of today")
        say(self, "password1", "New passphrase", "At least 12 characters")
        say(self, "password2", "New passphrase once more")


class PassphraseAgainForm(ReauthenticateForm):
    """The passphrase once more, before something serious."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        say(self, "password", "Passphrase")


class CodeForm(AuthenticateForm):
    """The code at sign-in."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        say(self, "code", "Code", CODE_HELP)


class CodeAgainForm(CodeReauthenticateForm):
    """A code once more, before something serious."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        say(self, "code", "Code", CODE_HELP)


class FirstCodeForm(ActivateTOTPForm):
    """The first code of a new device."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        say(self, "code", "First code", "Six digits that the device shows now")

    def clean_code(self) -> str:
        """Say of a first code that does not fit what usually is the matter."""
        try:
            code: str = super().clean_code()
        except ValidationError as problem:
            if problem.code == "incorrect_code":
                raise ValidationError(NOT_THIS_KEY, problem.code) from problem
            raise
        return code
