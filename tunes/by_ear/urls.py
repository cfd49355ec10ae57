"""Addresses of by-ear sheets, inside the namespace `tunes`."""

from __future__ import annotations

from django.urls import path

from tunes.by_ear import views

urlpatterns = [
    path("<int:tune>/by-ear/", views.begin, name="by-ear-start"),
    path("by-ear/chord/", views.chord_played, name="by-ear-chord"),
    path("by-ear/<int:pk>/", views.sheet, name="by-ear"),
    path("by-ear/<int:pk>/save", views.save, name="by-ear-save"),
    path("by-ear/<int:pk>/undo", views.undo, name="by-ear-undo"),
    path("by-ear/<int:pk>/share", views.share, name="by-ear-share"),
    path("by-ear/<int:pk>/compare", views.compare, name="by-ear-compare"),
]
