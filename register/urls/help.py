"""Addresses of help: the words of the register, and the first steps of each role."""

from django.urls import path

from register.views import help as views

urlpatterns = [
    path("words/", views.words, name="words"),
    path("first-steps/", views.first_steps, name="first-steps"),
]
