"""Addresses of recordings, inside the namespace `tunes`."""

from __future__ import annotations

from django.urls import path

from tunes.recordings import views

urlpatterns = [
    path("<int:tune>/recordings/", views.recordings, name="recordings"),
    path("<int:tune>/recordings/heard/", views.heard_by, name="heard-by"),
    path("<int:tune>/melody-map/", views.melody_map, name="melody-map"),
    path("<int:tune>/melody-map/add", views.add_phrase, name="phrase-add"),
    path("<int:tune>/melody-map/words", views.save_words, name="words"),
    path("phrases/<int:pk>/remove", views.remove_phrase, name="phrase-remove"),
    path("recordings/<int:pk>/", views.recording, name="recording"),
    path("recordings/<int:pk>/sound", views.sound, name="recording-sound"),
    path("recordings/<int:pk>/upload", views.upload, name="recording-upload"),
    path("recordings/<int:pk>/remove-sound", views.remove_sound, name="recording-remove-sound"),
    path("recordings/<int:pk>/marks", views.marks, name="recording-marks"),
    path("recordings/<int:pk>/heard", views.heard, name="recording-heard"),
    path("listening/", views.listening_log, name="listening-log"),
    path("cautions/<slug:name>/seen", views.caution_seen, name="caution-seen"),
]
