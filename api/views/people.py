from __future__ import annotations

from django.db.models import Q
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.exceptions import NotFound, PermissionDenied
from rest_framework.response import Response

from api.errors import Conflict
from api.listed import listed
from api.paging import page_of
from api.requests import Request
from api.scopes import PEOPLE_READ, PEOPLE_WRITE, TUNES_READ, WORK_READ
from api.serializers.people import (
    AddressedSerializer,
    ChairIn,
    ChairSerializer,
    EnsembleSerializer,
    MeSerializer,
    TermSerializer,
)
from api.views.base import Call
from assessments.access import players_led
from studio import access
from studio.models import Ensemble, Membership, Term, User
from studio.services import roles

ENSEMBLES = listed(EnsembleSerializer, "ensemble")
CHAIRS = listed(ChairSerializer, "chair")
PEOPLE = listed(AddressedSerializer, "person")
TERMS = listed(TermSerializer, "term")


@extend_schema(tags=["people"], summary="Who this token acts for", responses=MeSerializer)
class Me(Call):
    scopes = {"GET": TUNES_READ}

    def get(self, request: Request) -> Response:
        user = request.user
        body = {
            "id": user.pk,
            "name": user.name,
            "instrument": user.instrument,
            "email": user.email,
            "is_director": user.is_director,
            "service": user.service,
            "leads": access.ensembles_led(user),
            "plays_in": access.ensembles_played(user),
            "scopes": request.auth.scopes,
        }
        return Response(MeSerializer(body).data)


@extend_schema(tags=["people"], summary="Ensembles you lead or play in", responses=ENSEMBLES(many=True))
class Ensembles(Call):
    scopes = {"GET": WORK_READ}

    def get(self, request: Request) -> Response:
        rows = access.ensembles_led(request.user) | access.ensembles_played(request.user)
        return page_of(request, rows.distinct(), ENSEMBLES, self)


class People(Call):
    scopes = {"GET": PEOPLE_READ}

    @extend_schema(
        tags=["people"],
        summary="The players of the ensembles you lead; as the director, everybody",
        parameters=[
            OpenApiParameter("q", str, description="Part of a name, or an address"),
            OpenApiParameter("school_id", str, description="The whole school id; for directors and services"),
        ],
        responses=PEOPLE(many=True),
    )
    def get(self, request: Request) -> Response:
        directs = access.is_director(request.user)
        rows = User.objects.all() if directs else players_led(request.user)
        if number := request.query_params.get("school_id", "").replace("\x00", ""):
            if not directs:
                raise PermissionDenied("Only directors and services look for school ids.")
            rows = rows.filter(school_id=number)
        if text := request.query_params.get("q", "").replace("\x00", "").strip()[:120]:
            rows = rows.filter(Q(name__icontains=text) | Q(email__iexact=text))
        return page_of(request, rows.order_by("name", "pk"), PEOPLE, self, with_ids=directs)


@extend_schema(tags=["people"], summary="Terms, the latest first", responses=TERMS(many=True))
class Terms(Call):
    scopes = {"GET": WORK_READ}

    def get(self, request: Request) -> Response:
        return page_of(request, Term.objects.order_by("-starts", "-pk"), TERMS, self)


class Chairs(Call):
    scopes = {"GET": WORK_READ, "POST": PEOPLE_WRITE}

    @extend_schema(tags=["people"], summary="Who sits in an ensemble you lead", responses=CHAIRS(many=True))
    def get(self, request: Request, pk: int) -> Response:
        ensemble = get_object_or_404(access.ensembles_led(request.user), pk=pk)
        rows = ensemble.memberships.select_related("user").order_by("user__name", "pk")
        return page_of(request, rows, CHAIRS, self, **_seen(request))

    @extend_schema(tags=["people"], summary="Give a person a chair", request=ChairIn, responses={201: ChairSerializer})
    def post(self, request: Request, pk: int) -> Response:
        must_direct(request)
        ensemble = get_object_or_404(Ensemble, pk=pk)
        body = self.valid(ChairIn, request)
        person = body.pop("user")
        if Membership.objects.filter(user=person, ensemble=ensemble).exists():
            raise Conflict("This person has a chair in the ensemble already.")
        chair = roles.give_chair(person=person, ensemble=ensemble, by=request.user, **body)
        return Response(ChairSerializer(chair, context=_seen(request)).data, status=status.HTTP_201_CREATED)


class OneChair(Call):
    scopes = {"DELETE": PEOPLE_WRITE}

    @extend_schema(
        tags=["people"],
        summary="Take a chair away; what the person did stays in the record",
        responses={204: None},
    )
    def delete(self, request: Request, pk: int) -> Response:
        must_direct(request)
        rows = Membership.objects.select_related("ensemble__term")
        roles.take_chair(chair=get_object_or_404(rows, pk=pk), by=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)


def _seen(request: Request) -> dict[str, bool]:
    """What of a person stands in a chair: more for tokens that read people, school ids for directors besides."""
    reads = PEOPLE_READ in request.auth.scopes
    return {"with_addresses": reads, "with_ids": reads and access.is_director(request.user)}


def must_direct(request: Request) -> None:
    if not access.is_director(request.user):
        raise PermissionDenied("Only the director gives and takes chairs.")


@extend_schema(exclude=True)
class NoSuchCall(Call):
    """An address under v1 that is none answers as calls do, whoever asks and however."""

    authentication_classes = ()  # type: ignore[assignment]
    permission_classes = ()  # type: ignore[assignment]
    http_method_names = ["get", "post", "put", "patch", "delete"]

    def get(self, request: Request, rest: str) -> Response:
        raise NotFound("There is no such call. GET /api/v1/schema lists all there are.")

    post = put = patch = delete = get
