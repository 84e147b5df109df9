"""The reason for opening an identifiable record."""

from django import forms

from register.forms.base import RegisterForm


class ReasonForm(RegisterForm):
    """Why the record is opened; a word is not a reason."""

    reason = forms.CharField(
        label="Reason",
        min_length=10,
        max_length=300,
        help_text="For example: review of a complication reported in February",
        error_messages={
            "required": "Say why you open this record.",
            "min_length": "Give the reason in at least a few words.",
        },
    )
