"""The roof: every app's addresses."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path

from studio.views import health, offline

urlpatterns: list[URLPattern | URLResolver] = [
    path("livez", health.livez, name="livez"),
    path("readyz", health.readyz, name="readyz"),
    path("metrics", health.metrics, name="metrics"),
    path("offline-worker.js", offline.worker, name="offline_worker"),
    path("account/", include("studio.account_urls")),
    path("", include("studio.routes")),
    path("tunes/", include("tunes.urls")),
    path("drills/", include("drills.urls")),
    path("work/", include("assessments.urls")),
    path("api/", include("api.urls")),
]
handler400 = "studio.views.errors.bad_request"
handler403 = "studio.views.errors.forbidden"
handler404 = "studio.views.errors.not_found"
handler500 = "studio.views.errors.server_error"
