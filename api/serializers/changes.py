from __future__ import annotations

from rest_framework import serializers

from api.changes import FED


class ChangeSerializer(serializers.Serializer):
    kind = serializers.ChoiceField([kind.id for kind in FED])
    id = serializers.IntegerField()
    gone = serializers.BooleanField(help_text="It is not there any more")
    changed = serializers.DateTimeField(help_text="When the change was noticed, at most five minutes after it was made")
    address = serializers.CharField(
        help_text="The call that shows it; empty where there is none for one alone, or it is gone"
    )


class ChangesSerializer(serializers.Serializer):
    results = ChangeSerializer(many=True)
    next = serializers.CharField(help_text="Send this as `since` the next time")
    more = serializers.BooleanField(help_text="There is more now: call again at once")
