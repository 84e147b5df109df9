"""Sending in a referral file."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from register.forms.base import RegisterForm
from register.forms.layout import Save, helper
from register.services.imports import MOST_BYTES

_ORDERS = (
    ("dmy", "day, month, year: 4/3 is the 4th of March"),
    ("mdy", "month, day, year: 4/3 is the 3rd of April"),
    ("ymd", "year, month, day"),
)


class ReferralFileForm(RegisterForm):
    """The file and the order of its dates."""

    file = forms.FileField(
        label="Referral file",
        help_text="CSV, up to 5 MB.",
        widget=forms.ClearableFileInput({"accept": ".csv,.txt,.tsv,text/csv"}),
        error_messages={
            "required": "Choose the file to send.",
            "empty": "The file is empty. Choose the file again.",
            "missing": "The file did not arrive. Choose it again.",
            "invalid": "The file did not arrive. Choose it again.",
        },
        max_length=200,
    )
    date_order = forms.ChoiceField(
        label="Dates in figures are written",
        choices=_ORDERS,
        initial="dmy",
        widget=forms.RadioSelect,
        error_messages={"required": "Say how dates in figures are written."},
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        save = Save("Look at the rows", wait="Reading the file…")
        self.helper = helper("file", "date_order", save=save)

    def clean_file(self) -> UploadedFile:
        """Refuse a large file before it is read."""
        file: UploadedFile = self.cleaned_data["file"]
        if (file.size or 0) > MOST_BYTES:
            raise forms.ValidationError("The file is larger than 5 MB. Send it in parts.")
        return file
