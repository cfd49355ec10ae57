"""Addresses of versions side by side, inside the namespace `tunes`."""

from __future__ import annotations

from django.urls import path

from tunes.versions import views

urlpatterns = [
    path("<int:tune>/versions/", views.compare, name="compare"),
    path("<int:tune>/versions/quiz/", views.quiz, name="variants-quiz"),
    path("<int:tune>/versions/card/", views.card, name="jam-card"),
    path("<int:tune>/memory/", views.memory_sheet, name="memory-sheet"),
]
