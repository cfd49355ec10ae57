"""Fields that several bodies share. Text that no database holds (NUL) is refused with words, not a 500."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from tunes.harmony.pitch.spelling import Key, SpellingError

MAX_TEXT = 20_000  # characters of one chart


class KeyField(serializers.CharField):
    """A concert key as text: "Eb major", "F minor"."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=16, **kwargs)

    def to_internal_value(self, data: Any) -> str:
        text: str = super().to_internal_value(data)
        try:
            return Key.parse(text).text
        except SpellingError as error:
            raise serializers.ValidationError(
                f"“{text}” is not a key. Write, for example, “Eb major” or “F minor”."
            ) from error
