"""Addresses of tasks."""

from django.urls import path

from register.views import tasks

urlpatterns = [
    path("patients/<int:patient_id>/tasks/", tasks.patient_tasks, name="patient-tasks"),
    path("tasks/<int:task_id>/", tasks.task_close, name="task-close"),
]
