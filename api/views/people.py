from __future__ import annotations

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from api.paging import page_of
from api.scopes import TUNES_READ, WORK_READ
from api.serializers.people import ChairSerializer, EnsembleSerializer, MeSerializer
from api.views.base import Call
from studio import access


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
            "leads": access.ensembles_led(user),
            "plays_in": access.ensembles_played(user),
            "scopes": request.auth.scopes,
        }
        return Response(MeSerializer(body).data)


@extend_schema(tags=["people"], summary="Ensembles you lead or play in", responses=EnsembleSerializer(many=True))
class Ensembles(Call):
    scopes = {"GET": WORK_READ}

    def get(self, request: Request) -> Response:
        rows = access.ensembles_led(request.user) | access.ensembles_played(request.user)
        return page_of(request, rows.distinct(), EnsembleSerializer, self)


@extend_schema(tags=["people"], summary="Who sits in an ensemble you lead", responses=ChairSerializer(many=True))
class Chairs(Call):
    scopes = {"GET": WORK_READ}

    def get(self, request: Request, pk: int) -> Response:
        ensemble = get_object_or_404(access.ensembles_led(request.user), pk=pk)
        return page_of(
            request, ensemble.memberships.select_related("user").order_by("user__name", "pk"), ChairSerializer, self
        )
