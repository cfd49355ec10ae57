"""Addresses of bar checks, inside the namespace `tunes`."""

from __future__ import annotations

from django.urls import path

from tunes.checks import views

urlpatterns = [
    path("revisions/<int:revision>/check/", views.check_page, name="check"),
    path("revisions/<int:revision>/check/<int:bar>/", views.say, name="check-bar"),
    path("revisions/<int:revision>/check/rest/", views.rest, name="check-rest"),
    path("checks/<int:pk>/withdraw/", views.withdraw, name="check-withdraw"),
    path("checks/<int:pk>/settle/", views.settle, name="check-settle"),
    path("disputes/", views.disputes, name="disputes"),
]
