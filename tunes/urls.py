"""Addresses of the app `tunes`."""
from __future__ import annotations

from django.urls import URLPattern, URLResolver

app_name = "tunes"
urlpatterns: list[URLPattern | URLResolver] = []
