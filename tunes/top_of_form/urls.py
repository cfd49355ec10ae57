"""Addresses of the exercise, inside the namespace `tunes`."""

from __future__ import annotations

from django.urls import path

from tunes.top_of_form import views

urlpatterns = [
    path("<int:tune>/top-of-the-form/", views.page, name="top-of-form"),
    path("<int:tune>/top-of-the-form/finish/", views.finish, name="top-of-form-finish"),
]
