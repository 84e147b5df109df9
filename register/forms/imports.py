"""Sending a file in, and saying how it is read."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from django import forms
from django.core.files.uploadedfile import UploadedFile

from register.domain.vocabulary import FILE_KIND
from register.forms.base import RegisterForm
from register.forms.layout import Save, helper
from register.imports.column import Column
from register.imports.decoding import CODE_PAGES
from register.imports.kinds import KINDS
from register.imports.mapping import NOT_READ, Question
from register.models import FileImport
from register.services.imports import MOST_BYTES

_ORDERS: Final = (
    ("dmy", "day, month, year: 4/3 is the 4th of March"),
    ("mdy", "month, day, year: 4/3 is the 3rd of April"),
    ("ymd", "year, month, day"),
)
_CODE_PAGES: Final = (("", "find out, and show me what is doubtful"), *list(CODE_PAGES.items())[1:])


def _date_order() -> forms.ChoiceField:
    return forms.ChoiceField(
        label="Dates in figures are written",
        choices=_ORDERS,
        initial="dmy",
        widget=forms.RadioSelect,
        error_messages={"required": "Say how dates in figures are written."},
    )


def _code_page() -> forms.ChoiceField:
    return forms.ChoiceField(
        label="Letters of a CSV file",
        choices=_CODE_PAGES,
        required=False,
        help_text="Leave it when you do not know. A workbook needs no answer.",
    )


class FileForm(RegisterForm):
    """What the file holds, the file, the order of its dates, and its code page."""

    kind = forms.ChoiceField(
        label="The file holds",
        widget=forms.RadioSelect,
        error_messages={"required": "Say what the file holds."},
    )
    file = forms.FileField(
        label="File to send",
        help_text="XLSX or CSV, up to 5 MB and 10,000 rows.",
        widget=forms.ClearableFileInput({"accept": ".xlsx,.csv,.txt,.tsv,text/csv"}),
        error_messages={
            "required": "Choose the file to send.",
            "empty": "The file is empty. Choose the file again.",
            "missing": "The file did not arrive. Choose it again.",
            "invalid": "The file did not arrive. Choose it again.",
            "max_length": "The name of the file has more than 200 letters. Give it a shorter one.",
        },
        max_length=200,
    )
    date_order = _date_order()
    code_page = _code_page()

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["kind"].choices = [pair for pair in FILE_KIND if pair[0] in KINDS]  # type: ignore[attr-defined]
        self.fields["kind"].initial = "referrals"
        save = Save("Look at the rows", wait="Reading the file; a long one takes some seconds…")
        self.helper = helper("kind", "file", "date_order", "code_page", save=save)
        self.helper.attrs = {"data-patience": "60"}

    def clean_file(self) -> UploadedFile:
        """Refuse a large file before it is read."""
        file: UploadedFile = self.cleaned_data["file"]
        if (file.size or 0) > MOST_BYTES:
            raise forms.ValidationError("The file is larger than 5 MB. Send it in parts.")
        return file


class HowReadForm(RegisterForm):
    """How a kept file is read: order of dates, and its code page or its sheet."""

    date_order = _date_order()
    code_page = _code_page()
    sheet = forms.ChoiceField(
        label="Sheet",
        widget=forms.RadioSelect,
        error_messages={"required": "Say which sheet to read."},
    )

    def __init__(self, data: Any, *, kept: FileImport) -> None:
        how = kept.how_read
        chosen = {"date_order": kept.date_order, "code_page": how.get("code_page", "")}
        super().__init__(data, initial=chosen | {"sheet": how.get("sheet", "")}, prefix="file")
        sheets = how.get("sheets", [])
        if sheets:
            self.fields["sheet"].choices = [(name, name) for name in sheets]  # type: ignore[attr-defined]
        for name in ("code_page",) if sheets else ("sheet",):
            del self.fields[name]
        save = Save("Read it like this", "read", wait="Reading the file…")
        self.helper = helper(*self.fields, save=save)


class ColumnsForm(RegisterForm):
    """For each column of a file: which of ours it is, or that it is not read."""

    rest = forms.BooleanField(
        label="Do not read the columns that have no choice yet", required=False
    )

    def __init__(
        self,
        data: Any,
        *,
        questions: Sequence[Question],
        columns: Sequence[Column],
        mapping: Mapping[str, str],
    ) -> None:
        super().__init__(data, prefix="columns")
        self.questions, self.columns = questions, columns
        for place, question in enumerate(questions):
            stored = mapping.get(question.label)
            self.fields[f"column_{place}"] = forms.ChoiceField(
                label=question.label,
                choices=_choices(question, columns),
                required=False,
                initial=question.sure if stored is None else stored or NOT_READ,
                error_messages={"invalid_choice": "Choose one of the listed columns."},
            )

    @property
    def lines(self) -> list[tuple[Question, forms.BoundField]]:
        """Each column of the file with its box."""
        return [(question, self[name]) for name, question in self._named()]

    @property
    def chosen(self) -> dict[str, str]:
        """The labels of the file with the names of our columns, '' for not read."""
        answers = ((q.label, self.cleaned_data[name]) for name, q in self._named())
        return {label: "" if said == NOT_READ else said for label, said in answers}

    def clean(self) -> dict[str, Any]:
        """Refuse a column without answer, one that is chosen twice, and a needed one left out."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        names = [name for name, _ in self._named()]
        for name, question in self._named():
            if cleaned.get(name) == "" and cleaned.get("rest"):
                cleaned[name] = NOT_READ
            elif cleaned.get(name) == "":
                words = f"“{question.label}”: say what it holds, or that it is not read."
                self.add_error(name, words)
        given = [cleaned.get(name) or "" for name in names]
        for name, said in zip(names, given, strict=True):
            if said not in ("", NOT_READ) and given.count(said) > 1:
                self.add_error(name, f"“{said}” is chosen for two columns. Choose one of the two.")
        left_out = [c.name for c in self.columns if c.needed and c.name not in given]
        if left_out:
            names_left = ", ".join(left_out)
            self.add_error(None, f"Say which columns hold these, they are needed: {names_left}.")
        return cleaned

    def _named(self) -> Iterable[tuple[str, Question]]:
        return ((f"column_{place}", question) for place, question in enumerate(self.questions))


def _choices(question: Question, columns: Sequence[Column]) -> list[Any]:
    """Return the answers for one column, the likely ones first; none of them is chosen."""
    first = [("", "choose…"), (NOT_READ, "do not read")]
    likely = [(name, name) for name in question.guesses]
    others = [
        (c.name, f"{c.name} (needed)" if c.needed else c.name)
        for c in columns
        if c.name not in question.guesses
    ]
    groups = [("perhaps", likely)] if likely else []
    return [*first, *groups, ("columns of the register", others)]


class UndoForm(RegisterForm):
    """Why an import is undone, and the seal of the list that was shown."""

    seen = forms.CharField(widget=forms.HiddenInput, max_length=64)
    reason = forms.CharField(
        label="Why is it undone?",
        max_length=200,
        help_text="Kept with every row, for example: it was the file of another week.",
        error_messages={"required": "Say why the import is undone."},
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        save = Save("Undo this import", wait="Undoing…", serious=True)
        self.helper = helper("seen", "reason", save=save)

    def typed(self) -> dict[str, str]:
        """Return seal and reason for the service."""
        return {name: self.cleaned_data[name] for name in ("seen", "reason")}

    def show_again(self, words: str, seal: str) -> None:
        """Tell that the list has changed, and let the next press confirm the new one."""
        self.add_error(None, words)
        again: Any = self.data.copy()  # type: ignore[attr-defined]
        again["seen"] = seal
        self.data = again
