"""What is said and asked of a solo, what is read of it, what is taken from it into practice."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.response import Response

from api.errors import Unreadable
from api.listed import listed
from api.paging import page_of
from api.requests import Request
from api.scopes import TUNES_READ, WORK_READ, WORK_WRITE
from api.serializers import solo_words as shapes
from api.views.base import Call
from api.views.repertoire import by_form
from tunes.models import Solo, SoloTaken, SoloWord
from tunes.solos import selectors, services, taken
from tunes.solos.access import may_ask, may_say, seen_or_404, visible
from tunes.solos.bars import form_length
from tunes.solos.forms import WordForm
from tunes.solos.reading import SoloReading
from tunes.solos.reading_page import concert_reading, take_read
from tunes.study import chart_of

SOLO_WORDS = listed(shapes.SoloWordSerializer, "solo_word")
PRACTICE = listed(shapes.TakenSerializer, "own_practice")


def _read(request: Request, solo: Solo) -> SoloReading:
    """What this person may read of a solo. 403 while what the chords do is held back from them."""
    if solo.reading_held:  # type: ignore[attr-defined]
        raise PermissionDenied(solo.reading_held)  # type: ignore[attr-defined]
    return concert_reading(request.user, solo)[1]


class SoloRead(Call):
    scopes = {"GET": TUNES_READ}
    throttle_scope = "heavy"

    @extend_schema(
        tags=["tunes"],
        summary="The newest notes of a solo read against its changes, in concert pitch",
        description="Of a bar that is asked before it is told, and that you have not answered, nothing but the place of its notes.",
        responses=shapes.SoloReadingSerializer,
    )
    def get(self, request: Request, pk: int) -> Response:
        return Response(shapes.SoloReadingSerializer(_read(request, seen_or_404(request.user, pk))).data)


class SoloWords(Call):
    scopes = {"GET": TUNES_READ, "POST": WORK_WRITE}

    @extend_schema(
        tags=["tunes"],
        summary="What people say of the notes of a solo and call its passages",
        responses=SOLO_WORDS(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        solo = seen_or_404(request.user, pk)
        rows = solo.words.select_related("by").exclude(first__in=_untold(_read(request, solo)))
        return page_of(request, rows, SOLO_WORDS, self)

    @extend_schema(
        tags=["tunes"],
        summary="Say what a note is, or name a passage; beside what is read, instead of your earlier word there",
        request=shapes.SoloWordIn,
        responses={201: shapes.SoloWordSerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        solo = seen_or_404(request.user, pk)
        if not may_say(request.user, solo):
            raise PermissionDenied(
                "Who wrote a solo, and who leads the ensemble that it is shared with, say what its notes are."
            )
        data = by_form(WordForm(self.valid(shapes.SoloWordIn, request)))
        if not (data["role"] or data["text"]):
            raise Unreadable("Say a role or write words; to take a word back, delete it.")
        word = services.say(solo=solo, by=request.user, **data)
        return Response(shapes.SoloWordSerializer(word).data, status=status.HTTP_201_CREATED)


def _untold(reading: SoloReading) -> list[str]:
    """Onsets of the notes in bars that are still asked: words on them would tell."""
    return [str(one.note.onset) for one in reading.notes if one.note.bar in reading.hidden]


class OneSoloWord(Call):
    scopes = {"DELETE": WORK_WRITE}

    @extend_schema(tags=["tunes"], summary="Take back a word of yours", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        word = get_object_or_404(
            SoloWord, pk=pk, by=request.user, solo__in=visible(request.user).order_by().values("pk")
        )
        word.delete()
        return Response(status=status.HTTP_204_NO_CONTENT)


class SoloAsks(Call):
    scopes = {"GET": TUNES_READ, "PUT": WORK_WRITE}

    @extend_schema(
        tags=["tunes"], summary="Bars of a solo that are asked before they are told", responses=shapes.AskedSerializer
    )
    def get(self, request: Request, pk: int) -> Response:
        rows = selectors.asks_of(seen_or_404(request.user, pk), request.user)
        return Response(_asked(rows))

    @extend_schema(
        tags=["tunes"],
        summary="Ask about exactly these bars; answers to bars that stay asked stay",
        request=shapes.AskIn,
        responses=shapes.AskedSerializer,
    )
    def put(self, request: Request, pk: int) -> Response:
        solo = seen_or_404(request.user, pk)
        if not may_ask(request.user, solo):
            raise PermissionDenied(
                "Who wrote a solo, and who leads the ensemble that it is shared with, say what is asked."
            )
        count = len(selectors.covers(solo).places(form_length(chart_of(solo.revision.text))))
        bars = {bar - 1 for bar in self.valid(shapes.AskIn, request)["bars"]}
        if any(bar >= count for bar in bars):
            raise Unreadable(f"Bars of this solo are 1 to {count}, counted from its first one.")
        services.ask(solo=solo, bars=bars, by=request.user)
        return Response(_asked(selectors.asks_of(solo, request.user)))


def _asked(rows: Any) -> dict[str, list[int]]:
    return {
        "bars": [ask.bar + 1 for ask in rows],
        "answered": [ask.bar + 1 for ask in rows if ask.mine is not None],
    }


class SoloPractice(Call):
    scopes = {"GET": WORK_READ, "POST": WORK_WRITE}
    throttle_scope = "heavy"

    @extend_schema(
        tags=["work"],
        summary="What you took from a solo into practice",
        responses=PRACTICE(many=True),
    )
    def get(self, request: Request, pk: int) -> Response:
        rows = seen_or_404(request.user, pk).taken.filter(user=request.user)
        return page_of(request, rows, PRACTICE, self)

    @extend_schema(
        tags=["work"],
        summary="Take a habit, or the notes of a passage that lie outside their chords, into practice",
        request=shapes.TakenIn,
        responses={201: shapes.TakenSerializer},
    )
    def post(self, request: Request, pk: int) -> Response:
        solo = seen_or_404(request.user, pk)
        if solo.reading_held:  # type: ignore[attr-defined]
            raise PermissionDenied(solo.reading_held)  # type: ignore[attr-defined]
        body = self.valid(shapes.TakenIn, request)
        if not body["habit"] and None in (body["first"], body["last"]):
            raise Unreadable("Send a habit by its name, or the first and the last note of a passage.")
        try:
            row = take_read(request.user, solo, what=body["habit"], first=body["first"] or 0, last=body["last"] or 0)
        except taken.NothingToTake as problem:
            raise Unreadable(f"{problem}.") from problem
        return Response(shapes.TakenSerializer(row).data, status=status.HTTP_201_CREATED)


class OneTaken(Call):
    scopes = {"DELETE": WORK_WRITE}

    @extend_schema(tags=["work"], summary="Take it out of practice again", responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        taken.take_back(row=get_object_or_404(SoloTaken, pk=pk, user=request.user))
        return Response(status=status.HTTP_204_NO_CONTENT)
