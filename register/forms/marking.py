"""The marks on a picture, as they are sent from its page."""

import json
from typing import Any, ClassVar, Final

from crispy_forms.layout import Row
from django import forms

from register.domain.levels import TREATABLE_CODES
from register.domain.measuring.points import Marks, marks_of
from register.domain.vocabulary import MARK_VIEW
from register.forms.base import RegisterForm, StrictMeta
from register.forms.editing import EditForm
from register.forms.layout import Save, helper
from register.models import ImageFrame, ImageSeries, Marking

MOST_LETTERS = 20_000  # of the marks of one picture: 25 levels with 6 marks need 8,000


class MarksField(forms.CharField):
    """Marks as JSON text; the value is the object as sent, read strictly by the form."""

    widget = forms.Textarea

    def __init__(self, **options: Any) -> None:
        super().__init__(max_length=MOST_LETTERS, strip=True, **options)

    def prepare_value(self, value: Any) -> Any:
        """Show stored marks as text."""
        return value if isinstance(value, str) else json.dumps(value or {})

    def to_python(self, value: Any) -> Any:
        """Return the object. Raises ValidationError for what is no JSON object."""
        try:
            found = json.loads(super().to_python(value) or "{}", parse_constant=_no_constant)
        except (ValueError, RecursionError):
            found = None
        if not isinstance(found, dict):
            raise forms.ValidationError("The marks could not be read. Mark the points again.")
        return found

    def run_validators(self, value: Any) -> None:
        """Nothing more to check: the limits of a text hold for the text that came."""

    def validate(self, value: Any) -> None:
        """An empty object is told by the form, which knows the picture."""

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare the marks, not how they are written."""
        try:
            sent = self.to_python(data)
        except forms.ValidationError:
            return True
        return bool(sent != (initial or {}))


def _no_constant(name: str) -> None:
    raise ValueError(name)  # NaN and Infinity are no places


class MarkStartForm(RegisterForm):
    """Which level, in which view, on which picture of a series."""

    level = forms.ChoiceField(label="Level", choices=[(code, code) for code in TREATABLE_CODES])
    view = forms.ChoiceField(label="Seen", choices=MARK_VIEW)
    picture = forms.ChoiceField(label="Picture")

    def __init__(
        self,
        *args: Any,
        frames: list[ImageFrame],
        asked: str,
        level: str,
        series: ImageSeries,
        fractured: set[str],
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        first = next((code for code in TREATABLE_CODES if code in fractured), "L1")
        self.fields["level"].initial = level if level in TREATABLE_CODES else first
        self.fields["view"].initial = _VIEW_OF.get(series.plane, "lateral")
        pictures: Any = self.fields["picture"]
        pictures.choices = [(str(f.pk), f"{f.place + 1} of {len(frames)}") for f in frames]
        shown = {str(frame.pk) for frame in frames}
        middle = str(frames[len(frames) // 2].pk) if frames else ""
        pictures.initial = asked if asked in shown else middle
        self.helper = helper(Row("level", "view", "picture"), save="Mark this picture")
        self.helper.form_method = "get"
        self.helper.disable_csrf = True

    @property
    def target(self) -> tuple[int, str, str]:
        """Frame, level and view that were chosen."""
        chosen = self.cleaned_data
        return int(chosen["picture"]), chosen["level"], chosen["view"]


_VIEW_OF: Final = {"frontal": "frontal", "coronal": "frontal", "axial": "axial"}


class MarkingForm(EditForm):
    """Marks, whether the film is reversed, and the posture in which it was made."""

    may_say_why = True
    marks = MarksField(
        required=False,
        label="Marks",
        help_text="Set on the picture above.",
        widget=forms.Textarea(attrs={"rows": 2, "spellcheck": "false", "class": "marks-text"}),
    )
    posture = forms.ChoiceField(required=False)

    class Meta(StrictMeta):
        model = Marking
        fields: ClassVar = ["marks", "mirrored"]
        labels: ClassVar = {"mirrored": "Shown reversed: left and right of this film are exchanged"}

    def __init__(
        self, *args: Any, frame: ImageFrame, view: str, posture: str, whose: str, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.frame, self.view = frame, view
        self.read: Marks | None = None
        choices = frame.series.study._meta.get_field("posture").choices
        box: Any = self.fields["posture"]
        box.choices = [("", "not recorded"), *choices]
        box.initial = posture
        box.label = "Posture on these images"
        save = Save("Save the marks", wait="Measuring…")
        self.helper = helper(
            self.key, Row("posture", "mirrored"), "marks", *self.asks_why, save=save, whose=whose
        )

    def clean_marks(self) -> dict[str, Any]:
        """Return the marks of this picture. Raises ValidationError for impossible ones."""
        given: dict[str, Any] = self.cleaned_data["marks"]
        try:
            self.read = marks_of(given, self.view, rows=self.frame.rows, columns=self.frame.columns)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error
        if not self.read.levels:
            raise forms.ValidationError("Mark at least one point before saving.")
        return given
