"""Addresses of records made one and of records moved; numbers only, never a name."""

from django.urls import path

from register.views import transfers

_MOVE = "patients/<int:patient_id>/wrong-patient/"

urlpatterns = [
    path("patients/<int:patient_id>/same-person/", transfers.merge_find, name="merge-find"),
    path("patients/<int:patient_id>/same-person/<int:other_id>/", transfers.merge, name="merge"),
    path(_MOVE, transfers.move_list, name="move-list"),
    path(f"{_MOVE}<slug:kind>/<int:record_id>/", transfers.move_find, name="move-find"),
    path(f"{_MOVE}<slug:kind>/<int:record_id>/to/<int:to_id>/", transfers.move, name="move"),
    path("transfers/<int:transfer_id>/", transfers.transfer, name="transfer"),
    path("transfers/<int:transfer_id>/undo/", transfers.transfer_undo, name="transfer-undo"),
]
