"""The page at /docs, made from the OpenAPI description; it holds all it needs and asks for nothing else."""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Iterable, Iterator, Mapping
from hashlib import sha256
from html import escape
from typing import Any

from .kinds import Kind

METHODS = ("get", "post", "put", "delete")

STYLE = """
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 60rem; margin: 2rem auto; padding: 0 1rem; }
section { border-top: 1px solid; padding: .5rem 0; }
h2 { font-size: 1.1rem; } h2 code { font-size: 1.1rem; }
table { border-collapse: collapse; }
th, td { text-align: left; vertical-align: top; padding: .1rem 1rem .1rem 0; }
pre { overflow-x: auto; border: 1px solid; padding: .5rem; }
"""

CONTENT_SECURITY_POLICY = (
    f"default-src 'none'; style-src 'sha256-{b64encode(sha256(STYLE.encode()).digest()).decode()}'; "
    "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
)


def page_of(described: Mapping[str, Any], kinds: Iterable[Kind]) -> str:
    """Return the HTML page of an OpenAPI description and the kinds of problems."""
    info = described["info"]
    operations = "".join(
        _operation(path, method, methods[method], described)
        for path, methods in described["paths"].items() for method in METHODS if method in methods
    )  # fmt: skip
    problems = "".join(
        _row(f"<code>{escape(kind.name)}</code>", str(kind.status), escape(kind.title), escape(kind.advice))
        for kind in kinds
    )
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(info["title"])}</title>'
        f'<meta name="viewport" content="width=device-width"><style>{STYLE}</style></head><body><main>'
        f"<h1>{escape(info['title'])} {escape(info['version'])}</h1><p>{escape(info['description'])}</p>"
        f'<p>The same for programs: <a href="/openapi.json">/openapi.json</a></p>{operations}'
        f"<section><h2>Problems</h2><table>"
        f"<tr><th>kind</th><th>status</th><th>means</th><th>what to do</th></tr>"
        f"{problems}</table></section></main></body></html>\n"
    )


def _operation(path: str, method: str, operation: Mapping[str, Any], described: Mapping[str, Any]) -> str:
    parameters = "".join(
        _row(f"<code>{escape(p['name'])}</code>", p["in"] + (", needed" if p.get("required") else ""),
             escape(p.get("description", "")))
        for p in operation.get("parameters", [])
    )  # fmt: skip
    answers = "".join(
        _row(status, escape(answer["description"])) for status, answer in operation["responses"].items()
    )
    return (
        f'<section id="{escape(operation["operationId"])}">'
        f"<h2>{method.upper()} <code>{escape(path)}</code></h2>"
        f"<p>{escape(operation.get('description', ''))}</p>"
        + (f"<h3>Parameters</h3><table>{parameters}</table>" if parameters else "")
        + "".join(_bodies("Body", operation.get("requestBody", {}), described))
        + f"<h3>Answers</h3><table>{answers}</table>"
        + "".join(_bodies("Example", _success(operation), described)) + "</section>"
    )  # fmt: skip


def _success(operation: Mapping[str, Any]) -> Mapping[str, Any]:
    return next((answer for status, answer in operation["responses"].items() if status.startswith("2")), {})


def _bodies(title: str, holder: Mapping[str, Any], described: Mapping[str, Any]) -> Iterator[str]:
    for media_type, content in holder.get("content", {}).items():
        example = example_of(content.get("schema", {}), described)
        shown = f"<pre>{escape(json.dumps(example, indent=2))}</pre>" if isinstance(example, dict) else ""
        yield f"<h3>{title}: <code>{escape(media_type)}</code></h3>{shown}"


def example_of(schema: Mapping[str, Any], described: Mapping[str, Any]) -> Any:
    """Return an example of what `schema` describes: its own where it has one, its members' otherwise."""
    if "$ref" in schema:
        return example_of(described["components"]["schemas"][schema["$ref"].rpartition("/")[2]], described)
    if "examples" in schema:
        return schema["examples"][0]
    if "anyOf" in schema:
        return example_of(schema["anyOf"][0], described)
    if schema.get("type") == "object":
        return {name: example_of(member, described) for name, member in schema.get("properties", {}).items()}
    if schema.get("type") == "array":
        return [example_of(schema.get("items", {}), described)]
    return schema.get("description", schema.get("format", schema.get("type", "")))


def _row(*cells: str) -> str:
    return "<tr>" + "".join(f"<td>{cell}</td>" for cell in cells) + "</tr>"
