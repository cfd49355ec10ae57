"""Addresses of solos, inside the namespace `tunes`."""

from __future__ import annotations

from django.urls import path

from tunes.solos import views

urlpatterns = [
    path("<int:tune>/solos/", views.solos, name="solos"),
    path("<int:tune>/solos/new/", views.begin, name="solo-new"),
    path("solos/<int:pk>/", views.solo, name="solo"),
    path("solos/<int:pk>/write/", views.write, name="solo-write"),
    path("solos/<int:pk>/file/", views.from_file, name="solo-file"),
    path("solos/<int:pk>/draft", views.draft, name="solo-draft"),
    path("solos/<int:pk>/placed", views.placed, name="solo-placed"),
    path("solos/<int:pk>/keep", views.keep, name="solo-keep"),
    path("solos/<int:pk>/head/", views.head, name="solo-head"),
    path("solos/<int:pk>/share", views.share, name="solo-share"),
    path("solos/<int:pk>/remove/", views.remove, name="solo-remove"),
    path("solos/<int:pk>/say", views.say, name="solo-say"),
    path("solos/<int:pk>/take", views.take, name="solo-take"),
    path("solos/<int:pk>/ask", views.ask, name="solo-ask"),
    path("solos/asks/<int:pk>/answer", views.answer, name="solo-answer"),
]
