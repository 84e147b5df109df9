"""Tests, results and specimens of one patient that somebody must see."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods

from register.forms.tasks import TaskCloseForm, TaskForm
from register.models import Task
from register.permissions import SignedInRequest, needs
from register.services import tasks as writing
from register.views.saving import patient_or_404, patient_page, posted, save


@needs("refer")
@require_http_methods(["GET", "POST"])
def patient_tasks(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """The tasks of a patient, open ones first; POST adds one."""
    patient = patient_or_404(request, patient_id)
    form = TaskForm(posted(request), instance=Task(patient=patient), whose=str(patient))
    if form.is_valid() and save(
        request,
        form,
        f"Task added: {form.cleaned_data['title']}.",
        lambda: writing.task_open(
            patient=patient,
            user=request.user,
            **{name: form.cleaned_data[name] for name in ("kind", "title", "owner", "due_on")},
        ),
    ):
        return redirect("patient-tasks", patient.pk)
    tasks = Task.objects.live().filter(patient=patient).select_related("owner", "closed_by")
    context = {
        "open": tasks.filter(closed_at=None),
        "closed": tasks.exclude(closed_at=None).order_by("-closed_at"),
    }
    return patient_page(request, patient, "register/tasks/list.html", form, **context)


@needs("refer")
@require_http_methods(["GET", "POST"])
def task_close(request: SignedInRequest, task_id: int) -> HttpResponse:
    """Close a task in the name of whoever saw to it, with what was done."""
    rows = Task.objects.live().select_related("patient", "owner", "closed_by")
    task = get_object_or_404(rows, pk=task_id, patient__site=request.user.site)
    patient = task.patient
    form = TaskCloseForm(posted(request), initial={"version": task.version}, whose=str(patient))
    if form.is_valid() and save(
        request,
        form,
        f"Task closed: {task.title}.",
        lambda: writing.task_close(
            task=task,
            expected_version=form.cleaned_data["version"],
            action_taken=form.cleaned_data["action_taken"],
            user=request.user,
        ),
    ):
        return redirect("patient-tasks", patient.pk)
    return patient_page(request, patient, "register/tasks/close.html", form, task=task)
