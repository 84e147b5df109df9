"""Addresses of referrals, fractures, blood tests and bone density."""

from django.urls import path

from register.views import referrals

urlpatterns = [
    path("patients/<int:patient_id>/referral/", referrals.referral_new, name="referral-new"),
    path("referrals/<int:referral_id>/", referrals.referral_edit, name="referral-edit"),
    path("fractures/<int:fracture_id>/", referrals.fracture_edit, name="fracture-edit"),
    path("fractures/<int:fracture_id>/aside/", referrals.fracture_aside, name="fracture-aside"),
    path("patients/<int:patient_id>/blood/", referrals.laboratory_new, name="laboratory-new"),
    path("results/<int:result_id>/", referrals.laboratory_edit, name="laboratory-edit"),
]
