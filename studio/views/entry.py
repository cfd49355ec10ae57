"""Where one is signed in; and, for directors, what is asked of those who sign in."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.access import director_required
from studio.audit import record
from studio.entry import factor, sessions
from studio.entry.forms import RoleRuleForm
from studio.entry.rules import ROLES, RoleRule, read
from studio.models import AuditEntry, Programme, User


@require_safe
@login_required
def sign_ins(request: HttpRequest) -> HttpResponse:
    """Every place where this person is signed in."""
    shown = sessions.of(request.user, request.session.session_key)  # type: ignore[arg-type]
    return render(request, "studio/sign_ins.html", {"shown": shown, "others": sum(not one.is_this for one in shown)})


@require_POST
@login_required
def end_one(request: HttpRequest, pk: int) -> HttpResponse:
    """End one sign-in; one's own is a sign-out."""
    key = sessions.end(user=request.user, pk=pk)  # type: ignore[arg-type]
    if key is None:
        raise Http404
    if key == request.session.session_key:
        logout(request)
        return redirect("account_login")
    messages.success(request, "Signed out there.")
    return redirect("studio:sign_ins")


@require_POST
@login_required
def end_others(request: HttpRequest) -> HttpResponse:
    """End every sign-in but this one."""
    user: User = request.user  # type: ignore[assignment]
    ended = sessions.end_all(user=user, besides=request.session.session_key)
    if ended:
        record(AuditEntry.Kind.LOGIN, f"Signed out everywhere else: {ended}", by=user, about=user)
    messages.success(request, "You are signed in here alone.")
    return redirect("studio:sign_ins")


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def rules_page(request: HttpRequest) -> HttpResponse:
    """A second factor and the length of a sign-in, for each role."""
    kept = read(Programme.current().sign_in_rules)
    data = request.POST if request.method == "POST" else None
    forms = {role: RoleRuleForm(data, prefix=role, initial=_initial(kept[role])) for role in ROLES}
    wrong = any(form.errors for form in forms.values())
    if request.method == "POST" and not wrong:
        asked = {role: form.cleaned_data for role, form in forms.items()}
        factor.set_rules(asked=asked, by=request.user)  # type: ignore[arg-type]
        messages.success(request, "Saved.")
        return redirect("studio:entry_rules")
    held = factor.held_by_role()
    rows = [
        {"name": ROLES[role], "form": form, "have": held[role][0], "all": held[role][1]} for role, form in forms.items()
    ]
    return render(request, "studio/entry_rules.html", {"rows": rows}, status=422 if wrong else 200)


def _initial(rule: RoleRule) -> dict[str, Any]:
    return {"factor": rule.factor_since is not None, "grace": rule.grace, "hours": rule.hours or ""}


@require_http_methods(["GET", "HEAD", "POST"])
@director_required
def reset_factor(request: HttpRequest, pk: int) -> HttpResponse:
    """Take away the second factor of somebody who has lost it."""
    person = get_object_or_404(User, pk=pk, erased=None)
    if request.method == "POST" and person.pk != request.user.pk:
        done = factor.reset(user=person, by=request.user)  # type: ignore[arg-type]
        said = "The second factor is taken away and every sign-in ended." if done else "There was no second factor."
        messages.success(request, said)
        return redirect("studio:person", pk=pk)
    return render(request, "studio/factor_reset.html", {"person": person, "own": person.pk == request.user.pk})
