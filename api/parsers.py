"""Reading the body of a call."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser


class BoundedJSONParser(JSONParser):
    """JSON as the library reads it; brackets nested thousands deep and halves of characters are refused."""

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        try:
            data = super().parse(stream, media_type, parser_context)
            json.dumps(data, ensure_ascii=False).encode()
        except RecursionError as error:
            raise ParseError("The JSON is nested too deeply.") from error
        except UnicodeEncodeError as error:
            raise ParseError("A text holds half of a surrogate pair, which is no character.") from error
        return data
