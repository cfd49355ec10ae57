"""Addresses of the app `studio`."""
from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from studio.views import home, people

app_name = "studio"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", home.home, name="home"),
    path("welcome", home.welcome, name="welcome"),
    path("theme", home.set_theme, name="theme"),
    path("people/", people.people, name="people"),
]
