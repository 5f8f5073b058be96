"""What stands in the form of a page, as a browser reads it."""

from __future__ import annotations

from html.parser import HTMLParser


class Controls(HTMLParser):
    """The values of a page's fields, its ids, what its elements point at, its scripts and images.

    Attributes
    ----------
    values : By field, what would be sent: the texts, ticked values and the option chosen.
    ids : Every id of the page.
    pointed_at : Ids that labels, descriptions, lists and links within the page name.
    labelled : Ids that have a label.
    elements : Names of all elements, with their attributes.
    """

    def __init__(self, text: str) -> None:
        super().__init__()
        self.values: dict[str, list[str]] = {}
        self.ids: list[str] = []
        self.pointed_at: set[str] = set()
        self.labelled: set[str] = set()
        self.elements: list[tuple[str, dict[str, str]]] = []
        self._select = self._area = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = {name: value or "" for name, value in attrs}
        self.elements.append((tag, has))
        self.ids += [has["id"]] if "id" in has else []
        for name in ("aria-describedby", "aria-labelledby", "for", "list"):
            self.pointed_at |= set(has.get(name, "").split())
        if has.get("href", "").startswith("#"):
            self.pointed_at.add(has["href"][1:])
        if tag == "label":
            self.labelled |= {has["for"]} if "for" in has else set()
        if tag == "input" and has.get("type") == "checkbox":
            self.values.setdefault(has["name"], [])
            self.values[has["name"]] += [has["value"]] if "checked" in has else []
        elif tag == "input" and has.get("type") not in {"hidden", "file"}:
            self.values[has["name"]] = [has.get("value", "")]
        elif tag == "select":
            self._select = has["name"]
            self.values[self._select] = []
        elif tag == "option" and self._select and (not self.values[self._select] or "selected" in has):
            self.values[self._select] = [has["value"]]
        elif tag == "textarea":
            self._area = has["name"]
            self.values[self._area] = [""]

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            self.values[self._area] = [self.values[self._area][0].removeprefix("\n")]
        self._select = "" if tag == "select" else self._select
        self._area = "" if tag == "textarea" else self._area

    def handle_data(self, data: str) -> None:
        if self._area:
            self.values[self._area][0] += data
