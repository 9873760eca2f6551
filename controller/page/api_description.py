"""The orders of the page, described as OpenAPI 3.1 has it, out of their one description."""

from __future__ import annotations

from typing import Any

from controller.page.order_roles import ROLE_OF
from controller.service.orders import ORDERS, Words
from controller.service.picture import program_version

_PREAMBLE = (
    "Each order is one POST of a JSON object with its keys; without a body it has none. It is "
    "given in the name of the machine whose token comes along, as the logbook tells. What is not "
    'done is answered {"ok": false, "says": "…"}. Lengths are written as in the building\'s file '
    '("3s"), LOCAL is an ISO 8601 date or date and time of the building\'s clock.'
)
_NO = {
    "400": "Not understood: what was wrong, and what was expected.",
    "401": "No token of a machine came along.",
    "403": "The machine may not give this order.",
    "409": "The daemon says no, and why.",
    "413": "Too large.",
    "415": "The body is not application/json.",
    "503": "No daemon answers.",
}
_TOO_OFTEN = {"429": "Rung too often: try again after the seconds of Retry-After."}


def description() -> dict[str, Any]:
    """The whole description, plain enough for JSON."""
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Understudy: bells by zone, slave dials by the minute",
            "version": program_version(),
            "description": _PREAMBLE,
        },
        "security": [{"token": []}],
        "paths": {f"/api/{name}": {"post": _operation(name)} for name in ROLE_OF},
        "components": {
            "securitySchemes": {
                "token": {
                    "type": "http",
                    "scheme": "bearer",
                    "description": "`understudy person token` makes one.",
                }
            },
            "schemas": {"Answer": _ANSWER},
        },
    }


_ANSWER = {
    "type": "object",
    "description": "`says` is for people. What more an answer carries depends on the order.",
    "required": ["ok", "says"],
    "properties": {"ok": {"type": "boolean"}, "says": {"type": "string"}},
}


def _operation(name: str) -> dict[str, Any]:
    kind = ORDERS[name]
    no = _NO | _TOO_OFTEN if name == "ring" else _NO
    schema = _keys(kind)
    return {
        "operationId": name,
        "summary": " ".join((kind.__doc__ or "").split()),
        "description": f"For those who may {ROLE_OF[name]}.",
        "requestBody": {
            "required": bool(schema.get("required")),
            "content": {"application/json": {"schema": schema}},
        },
        "responses": {
            "200": _response("Done, or told."),
            **{status: _response(words) for status, words in sorted(no.items())},
        },
    }


def _response(words: str) -> dict[str, Any]:
    answer = {"$ref": "#/components/schemas/Answer"}
    return {"description": words, "content": {"application/json": {"schema": answer}}}


def _keys(kind: type[Words]) -> dict[str, Any]:
    """The JSON Schema of an order's own keys: what any order may carry, the page itself says."""
    schema = kind.model_json_schema(by_alias=True)
    properties = {
        key: {name: value for name, value in one.items() if name != "title"}
        for key, one in schema["properties"].items()
        if key not in Words.model_fields
    }
    required = [key for key in schema["required"] if key in properties]
    found = {"type": "object", "properties": properties, "additionalProperties": False}
    return found | ({"required": required} if required else {})
