"""Forms of the audit pages."""

from django import forms

from register.forms.outcomes import TokenForm


class IssueForm(TokenForm):
    """What is printed with an audit that is issued; sent twice, it counts once."""

    comment = forms.CharField(
        label="Comment, printed on the report",
        required=False,
        widget=forms.Textarea({"rows": 3}),
    )
