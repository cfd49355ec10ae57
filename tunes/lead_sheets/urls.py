"""Addresses of lead sheets, inside the namespace `tunes`."""

from __future__ import annotations

from django.urls import path

from tunes.lead_sheets import views

urlpatterns = [
    path("import/", views.import_page, name="lead-sheet-import"),
    path("import/keep/", views.keep, name="lead-sheet-keep"),
    path("revisions/<int:revision>/export/musicxml/", views.export_musicxml, name="export-musicxml"),
    path("revisions/<int:revision>/export/text/", views.export_text, name="export-text"),
    path("<int:tune>/melody/", views.melody, name="melody-import"),
    path("<int:tune>/melody/<int:pk>/remove/", views.remove_melody, name="melody-remove"),
]
