"""Addresses of the app `tunes`."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path

from tunes.views import charts, editor, idioms, naming, overrules, recordings, repertoire

app_name = "tunes"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", repertoire.index, name="index"),
    path("new/", repertoire.tune_new, name="tune_new"),
    path("<int:pk>/", repertoire.tune_page, name="tune"),
    path("<int:pk>/edit/", repertoire.tune_edit, name="tune_edit"),
    path("<int:pk>/delete/", repertoire.tune_delete, name="tune_delete"),
    path("<int:pk>/recordings/new/", recordings.recording_new, name="recording_new"),
    path("<int:pk>/recordings/<int:recording>/edit/", recordings.recording_edit, name="recording_edit"),
    path("<int:pk>/recordings/<int:recording>/delete/", recordings.recording_delete, name="recording_delete"),
    path("<int:pk>/charts/new/", editor.edit, name="chart_new"),
    path("<int:pk>/charts/new/draft/", editor.draft, name="draft_new"),
    path("<int:pk>/charts/new/discard/", editor.discard, name="discard_new"),
    path("<int:pk>/charts/new/take-back/", editor.take_back, name="take_back_new"),
    path("<int:pk>/charts/<int:version>/", charts.version_page, name="version"),
    path("<int:pk>/charts/<int:version>/<int:number>/", charts.version_page, name="revision"),
    path("<int:pk>/charts/<int:version>/edit/", editor.edit, name="chart_edit"),
    path("<int:pk>/charts/<int:version>/draft/", editor.draft, name="draft"),
    path("<int:pk>/charts/<int:version>/discard/", editor.discard, name="discard"),
    path("<int:pk>/charts/<int:version>/take-back/", editor.take_back, name="take_back"),
    path("<int:pk>/charts/<int:version>/agree/", charts.agree, name="agree"),
    path("revisions/<int:revision>/chords/<int:event>/", charts.event_panel, name="event"),
    path("revisions/<int:revision>/chords/<int:event>/overrule/", overrules.overrule, name="overrule"),
    path("revisions/<int:revision>/chords/<int:event>/key/", overrules.area_panel, name="area"),
    path("revisions/<int:revision>/chords/<int:event>/key/overrule/", overrules.overrule_area, name="overrule_area"),
    path("revisions/<int:revision>/name/", naming.page, name="naming"),
    path("overrules/labels/<int:pk>/withdraw/", overrules.withdraw_label, name="withdraw_label"),
    path("overrules/labels/<int:pk>/restore/", overrules.restore_label, name="restore_label"),
    path("overrules/keys/<int:pk>/restore/", overrules.restore_area, name="restore_area"),
    path("overrules/keys/<int:pk>/withdraw/", overrules.withdraw_area, name="withdraw_area"),
    path("idioms/", idioms.index, name="idioms"),
    path("idioms/new/", idioms.edit, name="idiom_new"),
    path("idioms/<int:pk>/", idioms.page, name="idiom"),
    path("idioms/<int:pk>/edit/", idioms.edit, name="idiom_edit"),
    path("idioms/<int:pk>/delete/", idioms.delete, name="idiom_delete"),
    path("", include("tunes.recordings.urls")),
    path("", include("tunes.by_ear.urls")),
    path("", include("tunes.checks.urls")),
    path("", include("tunes.lead_sheets.urls")),
    path("", include("tunes.top_of_form.urls")),
    path("", include("tunes.solos.urls")),
    path("", include("tunes.versions.urls")),
]
