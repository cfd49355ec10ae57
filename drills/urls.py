"""Addresses of the app `drills`."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from drills.advice import views as advice
from drills.keyboard import views as keyboard
from drills.other_band import views as other_band
from drills.solos import views as solos
from drills.takes import views as takes
from drills.views import band, drill, lines, packs, practice

app_name = "drills"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", practice.index, name="index"),
    path("practice/", practice.practice, name="practice"),
    path("charts/<int:revision>/", drill.page, name="drill"),
    path("charts/<int:revision>/band/", band.page, name="band"),
    path("charts/<int:revision>/band/chorus/", band.chorus, name="band_chorus"),
    path("charts/<int:revision>/band/take-away/<slug:form>/", band.download, name="band_download"),
    path("charts/<int:revision>/other-band/", other_band.page, name="other_band"),
    path("charts/<int:revision>/other-band/chorus/", other_band.chorus, name="other_band_chorus"),
    path("charts/<int:revision>/other-band/echo/", other_band.echo, name="other_band_echo"),
    path("charts/<int:revision>/other-band/again/", other_band.again, name="other_band_again"),
    path("charts/<int:revision>/keyboard/", keyboard.page, name="keyboard"),
    path("charts/<int:revision>/keyboard/judge/", keyboard.judge_chord, name="keyboard_judge"),
    path("charts/<int:revision>/recorder/", takes.recorder, name="recorder"),
    path("charts/<int:revision>/practised/", drill.practised, name="practised"),
    path("charts/<int:revision>/<slug:form>/", drill.download, name="download"),
    path("solos/<int:pk>/beside/<int:other>/", solos.two_versions, name="solo-beside"),
    path("solos/<int:pk>/<slug:form>/", solos.download, name="solo-file"),
    path("lines/", lines.index, name="lines"),
    path("lines/from/<int:solo>/", lines.cut, name="line-cut"),
    path("lines/<int:pk>/", lines.page, name="line"),
    path("lines/<int:pk>/practised/", lines.practised, name="line-practised"),
    path("lines/<int:pk>/heard/", lines.heard, name="line-heard"),
    path("lines/<int:pk>/paper/", lines.paper, name="line-paper"),
    path("lines/<int:pk>/pack/", lines.pack, name="line-pack"),
    path("lines/<int:pk>/through/<int:revision>/", lines.through, name="line-through"),
    path("lines/<int:pk>/name/", lines.name, name="line-name"),
    path("lines/<int:pk>/places/<int:revision>/<int:event>/", lines.place, name="line-place"),
    path("takes/", takes.index, name="takes"),
    path("takes/new/", takes.new, name="take-new"),
    path("takes/words/", takes.quick_words, name="quick-words"),
    path("takes/rule/", takes.rule, name="take-rule"),
    path("takes/<int:pk>/", takes.page, name="take"),
    path("takes/<int:pk>/sound/", takes.sound, name="take-sound"),
    path("takes/<int:pk>/wave/", takes.wave, name="take-wave"),
    path("takes/<int:pk>/delete/", takes.delete, name="take-delete"),
    path("takes/<int:pk>/comment/", takes.comment, name="take-comment"),
    path("takes/<int:pk>/whole/", takes.whole, name="take-whole"),
    path("takes/comments/<int:pk>/spoken/", takes.spoken, name="take-spoken"),
    path("takes/comments/<int:pk>/take-back/", takes.take_back, name="take-comment-back"),
    path("takes/comments/<int:pk>/answer/", takes.answer, name="take-answer"),
    path("takes/<int:pk>/advice/", advice.part, name="take-advice"),
    path("takes/<int:pk>/advice/contest/", advice.contest, name="take-contest"),
    path("takes/<int:pk>/advice/again/", advice.again, name="take-advice-again"),
    path("takes/<int:pk>/write-down/", advice.write_down, name="take-write-down"),
    path("packs/", packs.index, name="packs"),
    path("packs/new/<int:revision>/", packs.new, name="pack_new"),
    path("packs/<int:pk>/", packs.page, name="pack"),
    path("packs/<int:pk>/again/", packs.again, name="pack_again"),
    path("packs/<int:pk>/share/", packs.share, name="pack_share"),
    path("packs/<int:pk>/all.zip", packs.whole, name="pack_whole"),
    path("packs/<int:pk>/<slug:instrument>/", packs.part, name="pack_part"),
]
