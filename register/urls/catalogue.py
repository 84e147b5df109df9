"""Addresses of the administrator: techniques, stock, people."""

from django.urls import path

from register.views import catalogue, people

urlpatterns = [
    path("techniques/", catalogue.techniques, name="techniques"),
    path("techniques/new/", catalogue.technique_new, name="technique-new"),
    path("techniques/<int:technique_id>/", catalogue.technique_edit, name="technique-edit"),
    path("stock/", catalogue.stock, name="stock"),
    path("stock/new/", catalogue.stock_new, name="stock-new"),
    path("stock/<int:item_id>/", catalogue.stock_edit, name="stock-edit"),
    path("people/", people.users, name="users"),
    path("people/new/", people.user_new, name="user-new"),
    path("people/<int:user_id>/", people.user_edit, name="user-edit"),
    path("people/<int:user_id>/passphrase/", people.user_passphrase, name="user-passphrase"),
]
