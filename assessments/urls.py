"""Addresses of the app `assessments`, under `work/`."""

from __future__ import annotations

from django.urls import path

from .views import assign, desk, ensembles, files, ledger, marking, overview, plan, quiz, review, sign_off, solos

app_name = "work"
urlpatterns = [
    path("", desk.desk, name="desk"),
    path("overview/", overview.page, name="overview"),
    path("ledger/plan/", plan.page, name="plan"),
    path("ledger/plan/<int:pk>/", plan.change, name="plan-change"),
    path("ensembles/<int:pk>/", ensembles.page, name="ensemble"),
    path("assignments/<int:pk>/remind/", ensembles.remind_these, name="remind"),
    path("assignments/", assign.index, name="assignments"),
    path("assignments/new/", assign.new, name="assign"),
    path("assignments/<int:pk>/", assign.assignment, name="assignment"),
    path("assignments/<int:pk>/edit/", assign.edit, name="edit"),
    path("assignments/<int:pk>/release/", assign.release, name="release"),
    path("assignments/<int:pk>/close/", assign.close, name="close"),
    path("steps/<int:pk>/", desk.step, name="step"),
    path("steps/<int:pk>/start/", quiz.start, name="start"),
    path("assignments/steps/<int:pk>/ensemble/", review.ensemble, name="ensemble-sheet"),
    path("assignments/steps/<int:pk>/mark-again/", marking.mark_again, name="mark-again"),
    path("assignments/steps/<int:pk>/accept/", marking.accept, name="accept-answer"),
    path("assignments/steps/<int:pk>/sign-off/", sign_off.page, name="sign-off"),
    path("assignments/sign-offs/<int:pk>/take-back/", sign_off.back, name="take-back"),
    path("attempts/<int:pk>/", quiz.attempt, name="attempt"),
    path("attempts/<int:pk>/save/", quiz.save, name="save"),
    path("attempts/<int:pk>/hand-in/", quiz.finish, name="hand-in"),
    path("echo/", quiz.understood, name="echo"),
    path("files/<int:pk>/", files.listen, name="file"),
    path("handed-in/<int:pk>/solo/", solos.handed, name="handed-solo"),
    path("review/", review.queue, name="queue"),
    path("review/accept/", review.accept_many, name="accept-many"),
    path("review/<int:pk>/", review.sheet, name="sheet"),
    path("review/<int:pk>/comment/", review.comment, name="comment"),
    path("review/<int:pk>/mark/", review.mark, name="mark"),
    path("review/<int:pk>/outcome/", review.outcome, name="outcome"),
    path("ledger/", ledger.index, name="ledger"),
    path("ledger/mine/", ledger.mine, name="my-tunes"),
    path("ledger/csv/", ledger.export, name="ledger-csv"),
    path("ledger/known/", ledger.known, name="known"),
    path("ledger/requirements/", ledger.requirements, name="requirements"),
    path("ledger/players/<int:pk>/", ledger.player, name="player"),
    path("ledger/players/<int:pk>/tunes/<int:tune>/", ledger.evidence, name="evidence"),
    path("marking/", quiz.rules, name="marking-rules"),
]
