"""The orders of the page, described as OpenAPI 3.1 has it, out of their one description."""

from __future__ import annotations

from typing import Any

from controller.page.given_once import HEADER, KEPT_SECONDS, PATTERN
from controller.page.order_roles import ONCE, ROLE_OF, TOLD
from controller.service.orders import ORDERS, Words
from controller.service.picture import program_version

_PREAMBLE = (
    "An order is one POST of a JSON object with its keys; without a body it has none. What changes "
    "nothing is asked for by GET. All of it is given in the name of the machine whose token comes "
    'along, as the logbook tells. What is not done is answered {"ok": false, "says": "…"}. Lengths '
    'are written as in the building\'s file ("3s"), LOCAL is an ISO 8601 date or date and time of '
    "the building's clock."
)
_NO = {
    "400": "Not understood: what was wrong, and what was expected.",
    "401": "No token of a machine came along.",
    "403": "The machine may not give this order.",
    "409": "The daemon says no, and why; or the same order is under way.",
    "429": "Too often: try again after the seconds of Retry-After.",
    "503": "No daemon answers; where it went away meanwhile, it may have obeyed.",
}
_NO_BODY = {
    "408": "Too slow.",
    "413": "Too large.",
    "415": "The body is not application/json.",
}
_NO_ONCE = {"422": f"{HEADER}: something else was ordered by that number before."}
_NUMBER = {
    "name": HEADER,
    "in": "header",
    "required": True,
    "schema": {"type": "string", "pattern": f"^{PATTERN}$"},
    "description": "A number of the caller's own, new for each order. Whoever sends the same "
    f"again within {KEPT_SECONDS / 60:.0f} minutes, not having heard an answer, is told what was "
    "answered first, yes or no, and nothing is done twice. Numbers are forgotten when the page "
    "starts anew.",
}


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
        "paths": {f"/api/{name}": {"get": _told(name)} for name in TOLD}
        | {f"/api/orders/{name}": {"post": _given(name)} for name in ROLE_OF if name not in TOLD},
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


def _told(name: str) -> dict[str, Any]:
    schema = _keys(ORDERS[name])
    parameters = [
        {"name": key, "in": "query", "schema": _in_query(one), "description": one["description"]}
        for key, one in schema["properties"].items()
    ]
    return _operation(name, _NO) | ({"parameters": parameters} if parameters else {})


def _in_query(schema: dict[str, Any]) -> dict[str, Any]:
    """What stands in a query has no null: it is left out there."""
    found: dict[str, Any] = schema["anyOf"][0] if "anyOf" in schema else schema
    return {key: value for key, value in found.items() if key != "description"}


def _given(name: str) -> dict[str, Any]:
    schema = _keys(ORDERS[name])
    body = {
        "required": bool(schema.get("required")),
        "content": {"application/json": {"schema": schema}},
    }
    if name not in ONCE:
        return _operation(name, _NO | _NO_BODY) | {"requestBody": body}
    told = _operation(name, _NO | _NO_BODY | _NO_ONCE)
    return told | {"parameters": [_NUMBER], "requestBody": body}


def _operation(name: str, no: dict[str, str]) -> dict[str, Any]:
    return {
        "operationId": name,
        "summary": " ".join((ORDERS[name].__doc__ or "").split()),
        "description": f"For those who may {ROLE_OF[name]}.",
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
