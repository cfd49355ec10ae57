"""Addresses of the app `studio`."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from studio.views import (
    account,
    audit,
    ensembles,
    health,
    home,
    invitations,
    jobs,
    messages,
    notices,
    people,
    privacy,
    roster,
    setup,
)

app_name = "studio"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", home.home, name="home"),
    path("welcome", home.welcome, name="welcome"),
    path("theme", home.set_theme, name="theme"),
    path("setup/<str:token>/", setup.setup, name="setup"),
    path("invitation/<str:token>/", invitations.accept_invitation, name="accept"),
    path("state/", health.state, name="state"),
    path("me/", account.account, name="account"),
    path("me/data/", privacy.own, name="own_data"),
    path("me/data/<int:pk>/", privacy.fetch, name="archive"),
    path("people/keeping/", privacy.keeping, name="keeping"),
    path("people/keeping/<int:pk>", privacy.keep_one, name="keep_one"),
    path("people/<int:pk>/data/", privacy.of_person, name="person_data"),
    path("people/<int:pk>/erase/", privacy.erase_person, name="erase"),
    path("notices/", notices.notices, name="notices"),
    path("notices/seen", notices.seen, name="notices_seen"),
    path("notices/<int:pk>/", notices.open_notice, name="notice"),
    path("messages/", messages.messages, name="messages"),
    path("messages/<int:pk>/", messages.message, name="message"),
    path("jobs/<int:pk>/", jobs.job, name="job"),
    path("people/", people.people, name="people"),
    path("people/new/", people.new_person, name="person_new"),
    path("people/roster/", roster.roster, name="roster"),
    path("people/links/", invitations.open_links, name="open_links"),
    path("people/invite", invitations.invite_waiting, name="invite_waiting"),
    path("people/log/", audit.log, name="audit"),
    path("people/log/csv", audit.as_csv, name="audit_csv"),
    path("people/<int:pk>/", people.person, name="person"),
    path("people/<int:pk>/invite", invitations.invite_one, name="invite"),
    path("people/terms/", ensembles.terms, name="terms"),
    path("people/terms/<int:pk>/", ensembles.term, name="term"),
    path("ensembles/", ensembles.ensembles, name="ensembles"),
    path("ensembles/new/", ensembles.new_ensemble, name="ensemble_new"),
    path("ensembles/<int:pk>/", ensembles.ensemble, name="ensemble"),
    path("ensembles/<int:pk>/message/", messages.new, name="message_new"),
    path("ensembles/<int:pk>/substitute", ensembles.substitute, name="substitute"),
    path("ensembles/<int:pk>/edit/", ensembles.edit_ensemble, name="ensemble_edit"),
    path("ensembles/<int:pk>/chairs", ensembles.add_chair, name="chair_add"),
    path("ensembles/<int:pk>/chairs/<int:chair>", ensembles.change_chair, name="chair_change"),
    path("ensembles/<int:pk>/chairs/<int:chair>/remove", ensembles.remove_chair, name="chair_remove"),
]
