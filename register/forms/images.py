"""Images sent in, whose they are, and how the levels of a study were counted."""

from typing import Any, ClassVar

from crispy_forms.layout import Row
from django import forms

from register.forms.base import RegisterForm, StrictMeta
from register.forms.editing import EditForm, renew_version
from register.forms.layout import Save, helper
from register.models import Study
from register.services.editing import EditConflict


class ManyFilesInput(forms.ClearableFileInput):
    """A box for any number of files."""

    allow_multiple_selected = True


class ManyFilesField(forms.FileField):
    """Any number of files; the value is a list."""

    widget = ManyFilesInput

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        """Return the files that came; at least one, unless the field may be empty."""
        files = data if isinstance(data, list | tuple) else [data] if data else []
        if not files and self.required:
            raise forms.ValidationError(self.error_messages["required"], code="required")
        return [super(ManyFilesField, self).clean(one, initial) for one in files]


class ImagesForm(RegisterForm):
    """The files or the folder of one examination."""

    pictures = ManyFilesField(
        label="Image files, or one ZIP",
        required=False,
        allow_empty_file=True,
        help_text="DICOM files as they left the archive, up to 800 at once or any number in a ZIP;"
        " a PNG or JPEG is taken without a scale.",
    )
    folder = ManyFilesField(
        label="Or a folder",
        required=False,
        allow_empty_file=True,
        widget=ManyFilesInput(attrs={"webkitdirectory": True}),
        help_text="Everything in it is looked at; what is no image is listed and left out.",
    )

    def __init__(self, *args: Any, whose: str, **options: Any) -> None:
        super().__init__(*args, **options)
        save = Save("Take the images", wait="Reading the images…")
        self.helper = helper("pictures", "folder", save=save, whose=whose)
        self.helper.attrs = {"data-no-draft": True}

    def clean(self) -> dict[str, Any]:
        """Ask for at least one file."""
        cleaned = super().clean() or self.cleaned_data
        if not self.errors and not self.sent:
            self.add_error("pictures", "Choose the image files, a ZIP or a folder.")
        return cleaned

    @property
    def sent(self) -> list[Any]:
        """All files that came, from either box."""
        return [*self.cleaned_data.get("pictures", []), *self.cleaned_data.get("folder", [])]


class IdentityForm(RegisterForm):
    """A person says that a series shows this patient although its files say something else."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    identity_note = forms.CharField(
        label="How you know that these are this patient's images",
        max_length=300,
        help_text="For example: compared with the archive, the name is written without accents.",
        error_messages={"required": "Say how you know."},
    )

    def __init__(self, *args: Any, whose: str, **options: Any) -> None:
        super().__init__(*args, **options)
        save = Save("These are this patient's images", wait="Saving…", serious=True)
        self.helper = helper("version", "identity_note", save=save, whose=whose)

    def show_conflict(self, error: EditConflict) -> None:
        """Tell that somebody changed the series, and let the next press decide."""
        self.add_error(None, "Somebody changed this series meanwhile. Look at it, then decide.")
        renew_version(self, error)


class NumberingForm(EditForm):
    """From where the levels were counted, and how that agrees with other studies."""

    class Meta(StrictMeta):
        model = Study
        fields: ClassVar = ["counted_from", "transitional", "rib_bearing_bodies", "numbering_note"]
        labels: ClassVar = {
            "counted_from": "Levels counted",
            "transitional": "Transitional vertebra",
            "rib_bearing_bodies": "Bodies that bear ribs",
            "numbering_note": "How this agrees with a study that numbers differently",
        }
        help_texts: ClassVar = {
            "numbering_note": "Only where another study of this patient numbers differently."
        }

    def __init__(self, *args: Any, whose: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.helper = helper(
            self.key,
            Row("counted_from", "transitional", "rib_bearing_bodies"),
            "numbering_note",
            save="Confirm the numbering",
            whose=whose,
        )
