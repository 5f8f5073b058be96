"""Turn the bytes people's programs write into text."""

from __future__ import annotations

from codecs import BOM_UTF8, BOM_UTF16_BE, BOM_UTF16_LE
from pathlib import Path

from .notes import Notes


def text_of(path: Path, notes: Notes, most_bytes: int) -> str | None:
    """Return the text of a file, or None with the fault noted.

    Parameters
    ----------
    path : The file.
    notes : Where faults go.
    most_bytes : Larger files are refused unread. [byte]
    """
    try:
        if not path.is_file():
            notes.add("no such file", f"a file {path.name} in the scenario's folder")
            return None
        size = path.stat().st_size
        if size > most_bytes:
            notes.add(f"{size} bytes", f"at most {most_bytes} bytes; split the list or drop columns")
            return None
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "unreadable"
        notes.add(reason, "a file that may be read")
        return None
    text = decoded(raw)
    if text is None:
        notes.add("bytes that are not text", "plain text in UTF-8; save the file as CSV or TOML in UTF-8")
    return text


def decoded(raw: bytes) -> str | None:
    """Return `raw` as text, its newlines untouched, or None where it is not text.

    UTF-8 with or without mark, UTF-16 with its mark, else Windows-1252, the habit of older spreadsheets.
    Bytes above 127 hardly ever make valid UTF-8 by chance, so trying it first is safe.

    >>> decoded("é 5°".encode("cp1252")) == decoded("é 5°".encode("utf-8-sig")) == "é 5°"
    True
    >>> decoded(bytes([0, 1, 2])) is None
    True
    """
    if raw.startswith((BOM_UTF16_LE, BOM_UTF16_BE)):
        codecs = ["utf-16"]
    elif raw.startswith(BOM_UTF8):
        codecs = ["utf-8-sig"]
    else:
        codecs = ["utf-8", "cp1252"]
    for codec in codecs:
        try:
            text = raw.decode(codec)
        except UnicodeDecodeError:
            continue
        return None if "\0" in text else text
    return None
