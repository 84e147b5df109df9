"""Addresses of follow-up."""

from django.urls import path

from register.views import courses, outcomes

urlpatterns = [
    path("follow-up/", outcomes.follow_up_due, name="follow-up-due"),
    path("follow-up/<int:review_id>/", outcomes.review, name="review"),
    path("follow-up/<int:review_id>/draft/", outcomes.review_draft, name="review-draft"),
    path("follow-up/<int:review_id>/attempts/new/", outcomes.attempt_new, name="attempt-new"),
    path("patients/<int:patient_id>/follow-up/end/", outcomes.follow_up_end, name="follow-up-end"),
    path("patients/<int:patient_id>/course/", courses.course, name="course"),
]
