"""The director's pages of webhooks."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from api.campus import outward
from api.campus.webhooks import hooks, sending
from api.models import Hook
from studio.access import director_required
from studio.happenings import WORDS
from studio.web import paginate

READS = ["GET", "HEAD", "POST"]
MOST_HOOKS = 20


class HookForm(forms.ModelForm[Hook]):
    url = forms.CharField(
        label="Address", max_length=500, help_text="It begins with https:// and is reached from the internet."
    )
    events = forms.MultipleChoiceField(
        label="Tell it when",
        choices=[(str(kind), words) for kind, words in WORDS.items()],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one thing that it is told of."},
    )

    class Meta:
        model = Hook
        fields = ("name", "url", "events")
        labels = {"name": "What is it for?"}

    def clean_url(self) -> str:
        url: str = self.cleaned_data["url"]
        if why := outward.refusal(url):
            raise forms.ValidationError(why)
        return url

    def clean(self) -> dict[str, Any]:
        if self.instance.pk is None and Hook.objects.filter(ended=None).count() >= MOST_HOOKS:
            raise forms.ValidationError(f"There are {MOST_HOOKS} addresses already. End one first.")
        return super().clean() or {}


@never_cache
@require_http_methods(READS)
@director_required
def listed(request: HttpRequest) -> HttpResponse:
    """All addresses, and the form for a new one, whose secret is in the answer to the form and never again."""
    form = HookForm(request.POST if request.method == "POST" else None)
    made, secret = None, ""
    if request.method == "POST" and form.is_valid():
        made = form.save(commit=False)
        secret = hooks.make(made, by=request.user)  # type: ignore[arg-type]
        form = HookForm()
    context = {"form": form, "made": made, "secret": secret, "page": paginate(request, Hook.objects.filter(ended=None))}
    return render(request, "api/webhooks/list.html", context, status=422 if form.errors else 200)


@never_cache
@require_http_methods(READS)
@director_required
def one(request: HttpRequest, pk: int) -> HttpResponse:
    hook = _found(pk)
    form = HookForm(request.POST if request.method == "POST" else None, instance=hook)
    if request.method == "POST" and form.is_valid():
        hooks.change(form.save(commit=False), by=request.user)  # type: ignore[arg-type]
        messages.success(request, "Saved.")
        return redirect("api:hook", pk=pk)
    return _page(request, _found(pk) if form.errors else hook, form, status=422 if form.errors else 200)


def _page(request: HttpRequest, hook: Hook, form: HookForm, *, secret: str = "", status: int = 200) -> HttpResponse:
    context = {"hook": hook, "form": form, "secret": secret, "page": paginate(request, hook.deliveries.all())}
    return render(request, "api/webhooks/one.html", context, status=status)


@never_cache
@require_POST
@director_required
def roll(request: HttpRequest, pk: int) -> HttpResponse:
    hook = _found(pk)
    secret = hooks.roll(hook, by=request.user)  # type: ignore[arg-type]
    return _page(request, hook, HookForm(instance=hook), secret=secret)


@require_POST
@director_required
def try_it(request: HttpRequest, pk: int) -> HttpResponse:
    row = sending.test(_found(pk))
    if row.state == row.State.SENT:
        messages.success(request, f"The address took a test message and answered {row.status}.")
    else:
        messages.error(request, f"The test message was not taken: {row.status or ''} {row.answer}".strip())
    return redirect("api:hook", pk=pk)


@require_POST
@director_required
def switch_on(request: HttpRequest, pk: int) -> HttpResponse:
    hooks.switch_on(_found(pk), by=request.user)  # type: ignore[arg-type]
    messages.success(request, "It is told again. What waited goes with the next round of the worker.")
    return redirect("api:hook", pk=pk)


@require_POST
@director_required
def end(request: HttpRequest, pk: int) -> HttpResponse:
    hook = _found(pk)
    hooks.end(hook, by=request.user)  # type: ignore[arg-type]
    messages.success(request, f"“{hook.name}” is told nothing any more.")
    return redirect("api:hooks")


def _found(pk: int) -> Hook:
    return get_object_or_404(Hook, pk=pk, ended=None)
