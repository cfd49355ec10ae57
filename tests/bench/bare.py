"""What the load is compared with: the site's own middleware and one view that does a single insert."""

from __future__ import annotations

import json
import uuid

from django.http import HttpRequest, JsonResponse
from django.urls import path
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt

from assessments.models import AnswerHistory
from studio.urls import handler403, handler404, handler500
from studio.urls import urlpatterns as site

__all__ = ["handler403", "handler404", "handler500", "urlpatterns"]


@csrf_exempt
def insert(request: HttpRequest, attempt: int) -> JsonResponse:
    """One row into the table that a save writes to; nobody is signed in, nothing else is read."""
    body = json.loads(request.body)
    AnswerHistory.objects.create(
        attempt_id=attempt,
        question="bare",
        text=body["text"],
        version=1,
        client=uuid.uuid4(),
        sequence=1,
        saved=timezone.now(),
    )
    return JsonResponse({"saved": True})


urlpatterns = [path("bare/<int:attempt>/", insert, name="bare"), *site]
