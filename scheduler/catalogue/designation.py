"""The grammar of designations: one key for all spellings, one tidy spelling for print."""

from __future__ import annotations

import re
import unicodedata

GREEK = {
    "α": "alpha", "β": "beta", "γ": "gamma", "δ": "delta", "ε": "epsilon", "ζ": "zeta", "η": "eta",
    "θ": "theta", "ι": "iota", "κ": "kappa", "λ": "lambda", "μ": "mu", "ν": "nu", "ξ": "xi", "ο": "omicron",
    "π": "pi", "ρ": "rho", "σ": "sigma", "ς": "sigma", "τ": "tau", "υ": "upsilon", "φ": "phi", "χ": "chi",
    "ψ": "psi", "ω": "omega",
}  # fmt: skip
"""Small Greek letters by name, for stars."""

_SHORT_GREEK = {name[:3]: name for name in GREEK.values() if len(name) > 3} | {
    "alf": "alpha", "tet": "theta", "ksi": "xi",
}  # fmt: skip
"""Greek letters as star lists shorten them: "eps" for epsilon."""

LONG_FORMS = {
    "messier": "m", "caldwell": "c", "collinder": "cr", "col": "cr", "melotte": "mel", "barnard": "b",
    "trumpler": "tr", "harvard": "h", "a": "abell", "stock": "stock", "kemble": "kemble", "hickson": "hcg",
    "struve": "stf", "ottostruve": "stt", "dunlop": "dun", "rumker": "rmk", "burnham": "bu",
}  # fmt: skip
"""Catalogue names in full, and the key's form of them."""

_GREEK_LISTS = {"sigma": "stf", "sigmai": "stfa", "osigma": "stt", "osigmasigma": "stta", "delta": "dun"}
"""Lists of double stars that some still write with a Greek letter before a bare number."""

PRINTED = {
    "m": "M {}", "ngc": "NGC {}", "ic": "IC {}", "c": "C {}", "cr": "Cr {}", "cl": "Cr {}", "mel": "Mel {}",
    "b": "B {}", "tr": "Tr {}", "abell": "Abell {}", "stock": "Stock {}", "kemble": "Kemble {}", "sh": "Sh{}",
    "jones": "Jones {}", "h": "H {}", "hcg": "HCG {}", "ugc": "UGC {}", "ugca": "UGCA {}", "pgc": "PGC {}",
    "eso": "ESO {}", "lbn": "LBN {}", "mwsc": "MWSC {}", "stf": "STF {}", "stfa": "STFA {}", "stt": "STT {}",
    "dun": "DUN {}", "rmk": "RMK {}", "hj": "HJ {}", "shj": "SHJ {}", "bu": "BU {}",
}  # fmt: skip
"""How a designation of each catalogue is printed."""

_THE = re.compile(r"^\s*the\s+")
_DIGIT = re.compile(r"\d")
_NOT_IN_KEYS = re.compile(r"[^a-z0-9+-]|-(?!\d)")
_SHORT_STAR = re.compile(rf"({'|'.join(_SHORT_GREEK)})\.?[\s\d-]+[a-z]{{3}}")
_INDEX = re.compile(rf"\b({'|'.join(GREEK.values())})\s*-\s*(?=\d)")
_SIMBAD_CLUSTER = re.compile(r"^cl\s+(?=[a-z]+\s*\d)")
_SIMBAD_ABELL = re.compile(r"^pn\s*a\s*66\s+(?=\d)")
# "M 2-9" is one of Minkowski's, so that a hyphen after a Messier number is none of this.
_AND_NEXT = re.compile(r"((?:ngc|ic)\s*\d+)\s*[/-]\s*\d+|((?:m|messier)\s*\d+)\s*/\s*\d+")
_HYPHENED = re.compile(r"(m|messier|ngc|ic|c|caldwell)\s*-\s*(\d+)")
_LETTERS_THEN_NUMBER = re.compile(r"([a-z]+)(\d.*)")
_SHARPLESS = re.compile(r"\s*(?:sharpless|sh)\s*(?:2\s*[-\s]\s*)?(\d+)\s*")
_LEADING_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")


def key_of(text: str) -> str:
    """Return what all spellings of one designation or name share.

    >>> [key_of(name) for name in ("M31", "Messier 031", "M-31", "Sh 2-281", "The Hélix Nebula", "bet Cyg")]
    ['m31', 'm31', 'm31', 'sh2-281', 'helixnebula', 'betacyg']
    >>> [key_of(name) for name in ("Cl Melotte 22", "Struve 2382", "Σ 2382", "ε¹ Lyr", "eps01 Lyr")]
    ['mel22', 'stf2382', 'stf2382', 'epsilon1lyr', 'epsilon1lyr']
    """
    plain = text.casefold()
    if not plain.isascii():
        plain = unicodedata.normalize("NFKD", "".join(GREEK.get(letter, letter) for letter in plain))
    plain = _THE.sub("", plain).strip()
    if found := _SHORT_STAR.fullmatch(plain):
        plain = _SHORT_GREEK[found[1]] + plain[found.end(1) :]
    return _key_of_number(plain) if _DIGIT.search(plain) else _NOT_IN_KEYS.sub("", plain)


def _key_of_number(plain: str) -> str:
    plain = _INDEX.sub(r"\1", _SIMBAD_CLUSTER.sub("", _SIMBAD_ABELL.sub("abell", plain)))
    if found := _AND_NEXT.fullmatch(plain):
        plain = found[1] or found[2]  # "NGC 4038/9" means both, and the first will do
    if found := _HYPHENED.fullmatch(plain):
        plain = found[1] + found[2]
    if found := _SHARPLESS.fullmatch(plain):
        return f"sh2-{int(found[1])}"
    plain = _LEADING_ZEROS.sub("", _NOT_IN_KEYS.sub("", plain))
    found = _LETTERS_THEN_NUMBER.fullmatch(plain)
    if found and found[1] in LONG_FORMS:
        return LONG_FORMS[found[1]] + found[2]
    if found and found[1] in _GREEK_LISTS and found[2].isdigit():
        return _GREEK_LISTS[found[1]] + found[2]
    return plain


def key_of_code(code: str) -> str:
    """Return `key_of` a bare code such as "NGC0224" or "MCG-02-01-031", several times as fast.

    >>> key_of_code("MCG-02-01-031") == key_of("MCG -02-01-031")
    True
    """
    return _LEADING_ZEROS.sub("", code.casefold().replace(" ", ""))


def printed(key: str) -> str | None:
    """Return the tidy spelling of a catalogue number's key, or None where it is not one.

    >>> printed("m31"), printed("sh2-281"), printed("betacyg")
    ('M 31', 'Sh2-281', None)
    """
    found = _LETTERS_THEN_NUMBER.fullmatch(key)
    if not found or found[1] not in PRINTED:
        return None
    return PRINTED[found[1]].format(found[2].upper())
