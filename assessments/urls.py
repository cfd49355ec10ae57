"""Addresses of the app `assessments`."""
from __future__ import annotations

from django.urls import URLPattern, URLResolver

app_name = "work"
urlpatterns: list[URLPattern | URLResolver] = []
