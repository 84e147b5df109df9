"""Addresses of unfinished entries. No address holds a name or what was typed."""

from django.urls import path

from register.views import drafts

urlpatterns = [
    path("unfinished/", drafts.drafts, name="drafts"),
    path("unfinished/keep/", drafts.draft_kept, name="draft-keep"),
    path("unfinished/token/", drafts.draft_token, name="draft-token"),
    path("unfinished/back/", drafts.draft_restored, name="draft-restore"),
    path("unfinished/<int:draft_id>/drop/", drafts.draft_dropped, name="draft-drop"),
]
