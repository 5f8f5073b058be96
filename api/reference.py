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
h2 { margin-top: 2.5rem; } h3 { font-size: 1.1rem; } h3 code { font-size: 1.1rem; } h4 { margin: .5rem 0 0; }
nav { columns: 22rem; } nav ul { list-style: none; margin: 0; padding: 0; } nav h3 { margin: .75rem 0 0; }
nav h3, nav ul { break-inside: avoid-column; }
table { border-collapse: collapse; }
th, td { text-align: left; vertical-align: top; padding: .1rem 1rem .1rem 0; }
pre { overflow-x: auto; border: 1px solid; padding: .5rem; }
"""

CONTENT_SECURITY_POLICY = (
    f"default-src 'none'; style-src 'sha256-{b64encode(sha256(STYLE.encode()).digest()).decode()}'; "
    "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
)


EVERYWHERE = {"405", "408", "413", "415", "421", "422", "429", "500", "503", "507"}
"""Refusals that say nothing of an operation of its own."""


def page_of(described: Mapping[str, Any], kinds: Iterable[Kind]) -> str:
    """Return the HTML page of an OpenAPI description and the kinds of problems."""
    info = described["info"]
    by_tag: dict[str, list[tuple[str, str, Mapping[str, Any]]]] = {}
    for path, methods in described["paths"].items():
        for method in METHODS:
            if method in methods:
                by_tag.setdefault(methods[method]["tags"][0], []).append((path, method, methods[method]))
    operations = "".join(
        f'<h2 id="{escape(tag)}">{escape(tag.capitalize())}</h2>'
        + "".join(_operation(*one, described) for one in ones) for tag, ones in by_tag.items()
    )  # fmt: skip
    problems = "".join(
        _row(f"<code>{escape(kind.name)}</code>", str(kind.status), escape(kind.title), escape(kind.advice))
        for kind in kinds
    )
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(info["title"])}</title>'
        f'<meta name="viewport" content="width=device-width"><style>{STYLE}</style></head><body><main>'
        f"<h1>{escape(info['title'])} {escape(info['version'])}</h1><p>{escape(info['description'])}</p>"
        f'<p>The same for programs: <a href="/openapi.json">/openapi.json</a></p>{_contents(by_tag)}'
        "<p>Send your key as <code>Authorization: Bearer KEY</code>. Besides what each operation names, "
        'any may answer with one of the <a href="#problems">problems</a> below.</p>'
        f'{operations}<section id="problems"><h2>Problems</h2><table>'
        f"<tr><th>kind</th><th>status</th><th>means</th><th>what to do</th></tr>"
        f"{problems}</table></section></main></body></html>\n"
    )


def _contents(by_tag: Mapping[str, Iterable[tuple[str, str, Mapping[str, Any]]]]) -> str:
    """Return every operation on a line of its own, under its noun."""
    lists = "".join(
        f'<h3><a href="#{escape(tag)}">{escape(tag.capitalize())}</a></h3><ul>'
        + "".join(
            f'<li><a href="#{escape(operation["operationId"])}">{method.upper()} {escape(path)}</a></li>'
            for path, method, operation in ones
        ) + "</ul>" for tag, ones in by_tag.items()
    )  # fmt: skip
    return f'<nav aria-label="Operations">{lists}</nav>'


def _operation(path: str, method: str, operation: Mapping[str, Any], described: Mapping[str, Any]) -> str:
    parameters = "".join(
        _row(f"<code>{escape(p['name'])}</code>", p["in"] + (", needed" if p.get("required") else ""),
             escape(p.get("description", "")))
        for p in operation.get("parameters", [])
    )  # fmt: skip
    answers = "".join(
        _row(status, escape(answer["description"])) for status, answer in operation["responses"].items()
        if status not in EVERYWHERE
    )  # fmt: skip
    role = operation.get("x-role")
    needed = f"Needs a key; least role: {escape(role)}." if role else "Needs no key."
    return (
        f'<section id="{escape(operation["operationId"])}">'
        f"<h3>{method.upper()} <code>{escape(path)}</code></h3>"
        f"<p>{escape(operation.get('description', ''))}</p><p>{needed}</p>"
        + (f"<h4>Parameters</h4><table>{parameters}</table>" if parameters else "")
        + "".join(_bodies("Body", operation.get("requestBody", {}), described))
        + f"<h4>Answers</h4><table>{answers}</table>"
        + "".join(_bodies("Example", _success(operation), described)) + "</section>"
    )  # fmt: skip


def _success(operation: Mapping[str, Any]) -> Mapping[str, Any]:
    return next((answer for status, answer in operation["responses"].items() if status.startswith("2")), {})


def _bodies(title: str, holder: Mapping[str, Any], described: Mapping[str, Any]) -> Iterator[str]:
    for media_type, content in holder.get("content", {}).items():
        example = example_of(content.get("schema", {}), described)
        shown = f"<pre>{escape(json.dumps(example, indent=2))}</pre>" if isinstance(example, dict) else ""
        yield f"<h4>{title}: <code>{escape(media_type)}</code></h4>{shown}"


def example_of(schema: Mapping[str, Any], described: Mapping[str, Any]) -> Any:
    """Return an example of what `schema` describes: its own where it has one, its members' otherwise."""
    if "examples" in schema:
        return schema["examples"][0]
    if "$ref" in schema:
        return example_of(described["components"]["schemas"][schema["$ref"].rpartition("/")[2]], described)
    if "anyOf" in schema:
        return example_of(schema["anyOf"][0], described)
    if schema.get("type") == "object":
        return {name: example_of(member, described) for name, member in schema.get("properties", {}).items()}
    if schema.get("type") == "array":
        return [example_of(schema.get("items", {}), described)]
    return schema.get("description", schema.get("format", schema.get("type", "")))


def _row(*cells: str) -> str:
    return "<tr>" + "".join(f"<td>{cell}</td>" for cell in cells) + "</tr>"
