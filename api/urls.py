"""Addresses of the REST interface and of its two pages for people."""
from __future__ import annotations

from django.urls import URLPattern, URLResolver, path
from drf_spectacular.views import SpectacularAPIView

from api import pages
from api.views import charts, people, teaching, tunes, work

app_name = "api"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", pages.docs, name="docs"),
    path("tokens/", pages.tokens, name="tokens"),
    path("tokens/<int:pk>/revoke", pages.revoke_token, name="revoke"),
    path("v1/schema", SpectacularAPIView.as_view(authentication_classes=(), permission_classes=()), name="schema"),
    path("v1/me", people.Me.as_view(), name="me"),
    path("v1/ensembles", people.Ensembles.as_view(), name="ensembles"),
    path("v1/ensembles/<int:pk>/chairs", people.Chairs.as_view(), name="chairs"),
    path("v1/ensembles/<int:pk>/ledger", teaching.Ledger.as_view(), name="ledger"),
    path("v1/ensembles/<int:pk>/ledger.csv", teaching.LedgerCsv.as_view(), name="ledger-csv"),
    path("v1/ensembles/<int:pk>/known", teaching.Known.as_view(), name="known"),
    path("v1/ledger", teaching.MyLedger.as_view(), name="my-ledger"),
    path("v1/players/<int:pk>/evidence", teaching.EvidenceRows.as_view(), name="evidence"),
    path("v1/analyse", charts.Analyse.as_view(), name="analyse"),
    path("v1/tunes", tunes.Tunes.as_view(), name="tunes"),
    path("v1/tunes/<int:pk>", tunes.OneTune.as_view(), name="tune"),
    path("v1/tunes/<int:pk>/recordings", tunes.Recordings.as_view(), name="recordings"),
    path("v1/tunes/<int:pk>/versions", charts.Versions.as_view(), name="versions"),
    path("v1/recordings/<int:pk>", tunes.OneRecording.as_view(), name="recording"),
    path("v1/versions/<int:pk>/revisions", charts.Revisions.as_view(), name="revisions"),
    path("v1/revisions/<int:pk>", charts.OneRevision.as_view(), name="revision"),
    path("v1/revisions/<int:pk>/analysis", charts.RevisionAnalysis.as_view(), name="analysis"),
    path("v1/revisions/<int:pk>/overrules", charts.Overrules.as_view(), name="overrules"),
    path("v1/revisions/<int:pk>/key-areas", charts.AreaOverrules.as_view(), name="area-overrules"),
    path("v1/overrules/<int:pk>", charts.OneOverrule.as_view(), name="overrule"),
    path("v1/key-areas/<int:pk>", charts.OneAreaOverrule.as_view(), name="area-overrule"),
    path("v1/assignments", work.Assignments.as_view(), name="assignments"),
    path("v1/assignments/<int:pk>", work.OneAssignment.as_view(), name="assignment"),
    path("v1/assignments/<int:pk>/release", work.Release.as_view(), name="release"),
    path("v1/steps/<int:pk>/attempts", work.StartAttempt.as_view(), name="start"),
    path("v1/steps/<int:pk>/hand-ins", work.Send.as_view(), name="send"),
    path("v1/steps/<int:pk>/listening", work.Listenings.as_view(), name="listening"),
    path("v1/steps/<int:pk>/sign-offs", teaching.SignOffs.as_view(), name="sign-offs"),
    path("v1/sign-offs/<int:pk>", teaching.OneSignOff.as_view(), name="sign-off"),
    path("v1/files/<int:pk>", work.HandedInFile.as_view(), name="file"),
    path("v1/attempts", work.Attempts.as_view(), name="attempts"),
    path("v1/attempts/<int:pk>", work.OneAttempt.as_view(), name="attempt"),
    path("v1/attempts/<int:pk>/answers", work.Answers.as_view(), name="answers"),
    path("v1/attempts/<int:pk>/hand-in", work.HandIn.as_view(), name="hand-in"),
    path("v1/attempts/<int:pk>/comments", teaching.Comments.as_view(), name="comments"),
    path("v1/attempts/<int:pk>/overrides", teaching.Overrides.as_view(), name="overrides"),
    path("v1/attempts/<int:pk>/decision", teaching.Decision.as_view(), name="decision"),
]
