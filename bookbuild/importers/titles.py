"""Titles as collections write them, made readable: capitals, trailing stops, a dance behind a dash, articles behind."""

from __future__ import annotations

import re
import unicodedata
from pathlib import PurePath

LONGEST = 200
"""Characters of a title, a name or a remark."""

DANCES = {
    "air", "barndance", "clog", "fling", "galop", "galopade", "highland", "hornpipe", "jig", "march", "mazurka",
    "minuet", "polka", "quadrille", "quickstep", "reel", "schottische", "slide", "strathspey", "tango",
    "two-step", "varsovienne", "waltz",
}
"""What collections write behind a title to say how a tune goes."""

_SMALL = {
    "a", "an", "and", "as", "at", "but", "by", "con", "da", "de", "del", "der", "des", "di", "die", "du", "e",
    "en", "et", "for", "from", "il", "im", "in", "into", "la", "le", "les", "mit", "nor", "o", "of", "on", "or",
    "the", "to", "und", "upon", "von", "with", "y", "zu", "zum", "zur", "è",
}
"""Words written small inside a title: articles, prepositions and conjunctions of the languages met most."""

_ABBREVIATED = {"arr", "etc", "mme", "mrs", "nos", "opp", "trad", "vol"}
_ARTICLES = "The|A|An|Der|Die|Das|Le|La|Les"
_FEWEST_CAPITALS = 5
"""Letters, all of them capitals, from which a title is taken to be set in capitals: below it may be an abbreviation."""


def clean_text(text: str) -> str:
    """One line of printable text, at most `LONGEST` characters."""
    plain = "".join(" " if unicodedata.category(c)[0] in "CZ" else c for c in text)
    return " ".join(plain.split())[:LONGEST].strip()


def clean_title(text: str) -> str:
    """`FELT BOOTS -- Reel.` as `Felt Boots – Reel`; "Reel, The" is turned round; '' where none is.

    Some programs write the file's name as the title: it is read as one.
    """
    if re.search(r"\S\.(abc|xml|mxl|musicxml|midi?|kar)\s*$", text, re.IGNORECASE):
        return title_of_file(clean_text(text))
    parts = [_clean_part(part) for part in re.split(r"\s+-{1,3}\s+|\s*--+\s*", clean_text(text))]
    return " – ".join(filter(None, parts))


def split_dance(title: str) -> tuple[str, str]:
    """A cleaned title without the dance that stands behind its dash, and that dance: what kind of tune it is."""
    name, dash, kind = title.rpartition(" – ")
    known = name and kind.lower().split()[-1:] and kind.lower().split()[-1] in DANCES
    return (name, kind.lower()) if dash and known else (title, "")


def title_of_file(file: str) -> str:
    """A title for a tune that has none: `Tide mill no2` for `tide_mill_no2.mxl`."""
    words = clean_text(re.sub(r"[_\-]+|\.(?!\d)", " ", PurePath(file).stem))
    return words[:1].upper() + words[1:] or "Untitled"


def _clean_part(part: str) -> str:
    words = part.split()
    if sum(map(str.isalpha, part)) >= _FEWEST_CAPITALS and part == part.upper() and part != part.lower():
        words = [_lower(word, place in (0, len(words) - 1)) for place, word in enumerate(words)]
    if words and _ends_in_stop(words[-1]):
        words[-1] = words[-1][:-1]
    plain = " ".join(words)
    turned = re.fullmatch(rf"(.+), ({_ARTICLES})", plain, re.IGNORECASE)
    return f"{turned[2].capitalize()} {turned[1]}" if turned else plain


def _ends_in_stop(word: str) -> bool:
    """True for a full stop that ends nothing: `Darling.`, not `Op.`, `J.S.` or `…`."""
    stem = word[:-1]
    return word.endswith(".") and "." not in stem and len(stem) > 2 and stem.lower() not in _ABBREVIATED


def _lower(word: str, at_edge: bool) -> str:
    """A word in capitals as titles have it; Roman numerals stay."""
    if re.fullmatch(r"[IVX]+[.,:]?", word):
        return word
    plain = word.lower()
    if plain.strip("(),.:;!?'’") in _SMALL and not at_edge:
        return plain
    return re.sub(r"(\bmc|\bo['’]|^|[-/(\"“„'’.])(\w)", _raise, plain)


def _raise(match: re.Match[str]) -> str:
    """The capital after a beginning; not after an apostrophe inside a word, as in `Jenny's`."""
    before, letter = match[1], match[2]
    if before in ("'", "’") and match.start():
        return match[0]
    return before.capitalize() + letter.upper()
