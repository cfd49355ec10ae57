"""Addresses of the app `drills`."""
from __future__ import annotations

from django.urls import URLPattern, URLResolver

app_name = "drills"
urlpatterns: list[URLPattern | URLResolver] = []
