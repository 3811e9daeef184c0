"""Changes to the text of a course file that know its structure: keys, values, bars, rows, and the bytes below them."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from dataclasses import dataclass

import yaml
from strange_values import BAR_TOKENS, MUSIC, NUMBERS, STRANGE, VALUES

Mutation = Callable[[str, random.Random], str]


@dataclass(frozen=True)
class Pair:
    """A key with its value as written: offsets into the text."""

    start: int
    key_end: int
    value_start: int
    end: int
    scalar: bool


def find_pairs(text: str) -> list[Pair]:
    """Every `key: value` of a text, outer ones first; empty when it is not YAML (any more)."""
    try:
        root = yaml.compose(text, Loader=yaml.SafeLoader)
    except (yaml.YAMLError, ValueError, RecursionError):
        return []
    pairs: list[Pair] = []
    open_nodes = [root] if root is not None else []
    seen: set[int] = set()
    while open_nodes:
        node = open_nodes.pop(0)
        if id(node) in seen:
            continue
        seen.add(id(node))
        if isinstance(node, yaml.MappingNode):
            for key, value in node.value:
                scalar = isinstance(value, yaml.ScalarNode)
                pairs.append(
                    Pair(
                        key.start_mark.index,
                        key.end_mark.index,
                        value.start_mark.index,
                        max(value.end_mark.index, key.end_mark.index),
                        scalar,
                    )
                )
                open_nodes.append(value)
        elif isinstance(node, yaml.SequenceNode):
            open_nodes += node.value
    return pairs


def _on_pair(change: Callable[[str, Pair, random.Random], str]) -> Mutation:
    """A mutation of one pair chosen at random; the text as it is when there is none."""

    def mutate(text: str, chance: random.Random) -> str:
        pairs = find_pairs(text)
        return change(text, chance.choice(pairs), chance) if pairs else text

    return mutate


def _drop(text: str, pair: Pair, chance: random.Random) -> str:
    return text[: pair.start] + text[pair.end :].lstrip(" ")


def _duplicate(text: str, pair: Pair, chance: random.Random) -> str:
    indent = pair.start - (text.rfind("\n", 0, pair.start) + 1)
    return text[: pair.end].rstrip("\n") + "\n" + " " * indent + text[pair.start :]


def _rename(text: str, pair: Pair, chance: random.Random) -> str:
    key = text[pair.start : pair.key_end]
    at = chance.randrange(len(key) + 1)
    names = [
        key[:at] + key[at + 1 :],
        key[:at] + chance.choice(STRANGE) + key[at:],
        key.upper(),
        key[::-1],
        "а" + key[1:],
    ]
    names += ["", "<<", "[a, b]", key * 90, "null", "7", f'"{key}"', f"? {key}\n", key + ".x", key + " "]
    new = chance.choice(names)
    return text[: pair.start] + new + text[pair.key_end :]


def _put(text: str, pair: Pair, value: str) -> str:
    return (
        text[: pair.key_end] + ": " + value + ("\n" if text[pair.end - 1 : pair.end] == "\n" else "") + text[pair.end :]
    )


def _retype(text: str, pair: Pair, chance: random.Random) -> str:
    return _put(text, pair, chance.choice(VALUES))


def _number(text: str, pair: Pair, chance: random.Random) -> str:
    return _put(text, pair, chance.choice(NUMBERS))


def _nest(text: str, pair: Pair, chance: random.Random) -> str:
    depth = chance.choice((1, 2, 5, 19, 25, 400, 5000))
    opening, closing = chance.choice((("[", "]"), ("{a: ", "}"), ("[{b: ", "}]")))
    return _put(text, pair, opening * depth + "x" + closing * depth)


def _odd_sign(text: str, pair: Pair, chance: random.Random) -> str:
    at = chance.randint(pair.value_start, max(pair.value_start, pair.end))
    return text[:at] + chance.choice(STRANGE) + text[at:]


def _move_value(text: str, pair: Pair, chance: random.Random) -> str:
    other = chance.choice(find_pairs(text))
    return _put(text, pair, text[other.value_start : other.end].strip("\n") or "x")


def _anchor(text: str, pair: Pair, chance: random.Random) -> str:
    value = text[pair.value_start : pair.end]
    bomb = (
        "&a [x, x]\nb: &b [*a, *a, *a, *a, *a, *a, *a, *a]\nc: &c [*b, *b, *b, *b, *b, *b, *b, *b]\nd: [*c, *c, *c, *c]"
    )
    return _put(
        text,
        pair,
        chance.choice((f"&a {value}", "*a", "&a [*a]", f"!!str {value}", f"!!omap {value}", bomb, "{<<: *a}")),
    )


def _many(text: str, pair: Pair, chance: random.Random) -> str:
    value = text[pair.value_start : pair.end]
    return text[: pair.value_start] + value * chance.choice((2, 3, 20, 300)) + text[pair.end :]


def other_music(text: str, chance: random.Random) -> str:
    """One musical value changed for another that is sound in itself."""
    known = [pair for pair in find_pairs(text) if text[pair.start : pair.key_end] in MUSIC]
    if not known:
        return text
    pair = chance.choice(known)
    value = chance.choice(MUSIC[text[pair.start : pair.key_end]])
    return text[: pair.value_start] + (f'"{value}"' if "'" in value else value) + text[pair.end :]


def edit_figures(text: str, chance: random.Random) -> str:
    """A few figures changed for near ones."""
    share = chance.choice((0.02, 0.1))

    def near(found: re.Match[str]) -> str:
        return str(max(0, int(found[0]) + chance.choice((-2, -1, 1, 2)))) if chance.random() < share else found[0]

    return re.sub(r"\d{1,9}", near, text)


def edit_pitches(text: str, chance: random.Random) -> str:
    """Note letters, octave marks and chord letters changed here and there; bars keep their lengths."""
    share = chance.choice((0.03, 0.3, 1.0))

    def note(found: re.Match[str]) -> str:
        if chance.random() > share:
            return found[0]
        return (
            chance.choice("cdefgab")
            + chance.choice(("", "", "", "is", "es"))
            + chance.choice(("'", "''", "''", "'" * 3, ""))
            + found[1]
        )

    def chord(found: re.Match[str]) -> str:
        return chance.choice(MUSIC["chord"]) + found[1] if chance.random() < share else found[0]

    if chance.random() < 0.5:
        return re.sub(r"(?<=[\s{])[a-g](?:is|es)?'*(?=[\d\s~.-])([\d.]*)", note, text)
    return re.sub(r"(?<=[\s|])[A-G][b#]?m?7?(?= ?[|\n ])( ?)", chord, text)


def edit_row(text: str, chance: random.Random) -> str:
    """Signs of a groove's rows changed for others, as many as before."""
    share = chance.choice((0.1, 0.5))

    def row(found: re.Match[str]) -> str:
        signs = [
            chance.choice("xxrfta.-") if sign in "xrfta.-" and chance.random() < share else sign for sign in found[2]
        ]
        return found[1] + "".join(signs)

    return re.sub(r'^( *(?:bass|chord|fill): *")([^"\n]*)', row, text, flags=re.MULTILINE)


def edit_bars(text: str, chance: random.Random) -> str:
    """One change among the notes, chords or row signs of one written value."""
    spots = [
        match for match in re.finditer(r"^[ ]*[^#\n:]*[|.x~'][^\n]*$", text, re.MULTILINE) if " " in match[0].strip()
    ]
    if not spots:
        return text
    spot = chance.choice(spots)
    tokens = re.split(r"(\s+)", spot[0])
    at = chance.randrange(len(tokens))
    how = chance.randrange(6)
    if how == 0:
        del tokens[at]
    elif how == 1:
        tokens.insert(at, tokens[at] + " ")
    elif how == 2:
        tokens[at] = f" {chance.choice(BAR_TOKENS)} "
    elif how == 3:
        tokens.insert(at, f" {chance.choice(BAR_TOKENS)} ")
    elif how == 4:
        tokens[at] = re.sub(r"\d+", lambda _: chance.choice(NUMBERS), tokens[at])
    else:
        other = chance.randrange(len(tokens))
        tokens[at], tokens[other] = tokens[other], tokens[at]
    return text[: spot.start()] + "".join(tokens) + text[spot.end() :]


def edit_lines(text: str, chance: random.Random) -> str:
    """One line lost, doubled, moved, shifted or joined to the next."""
    lines = text.split("\n")
    at = chance.randrange(len(lines))
    how = chance.randrange(7)
    if how == 0:
        del lines[at]
    elif how == 1:
        lines.insert(at, lines[at])
    elif how == 2:
        lines[at] = " " * chance.choice((1, 2, 3, 40)) + lines[at]
    elif how == 3:
        lines[at] = lines[at].lstrip(" ")
    elif how == 4:
        lines[at : at + 2] = [" ".join(lines[at : at + 2])]
    elif how == 5:
        lines[at] = lines[at].replace("  ", "\t", 1) if "  " in lines[at] else "\t" + lines[at]
    else:
        chance.shuffle(lines)
    return "\n".join(lines)


def edit_signs(text: str, chance: random.Random) -> str:
    """One character lost, put in, or changed anywhere."""
    at = chance.randrange(len(text) + 1)
    return text[:at] + chance.choice(("", *STRANGE)) + text[at + chance.choice((0, 1, 1, 3)) :]


def edit_whole(text: str, chance: random.Random) -> str:
    """What can befall a file as a whole."""
    made = [
        "",
        "\n",
        "# only a remark\n",
        "- a list\n",
        "just words\n",
        "[" * 30_000,
        "{" * 900,
        "- " * 3000 + "x",
        "a: b\n" * 3000,
    ]
    made += ["---\n" + text + "---\n" + text, "%YAML 1.1\n---\n" + text, text + "...\n", text + text, "? " + text]
    made += ["\ufeff" + text, text + "\x00", "title: >" + " " * 1_100_000 + "x", "\u2028".join(text.split("\n"))]
    changes = [("\n", "\r\n"), ("\n", "\r"), (":", "："), ('"', "'"), ('"', ""), ("|\n", ">\n"), ("|\n", "|2-\n")]
    made += [text.replace(*change) for change in changes]
    return chance.choice(made)


MUTATIONS: dict[str, Mutation] = {
    "drop key": _on_pair(_drop),
    "duplicate key": _on_pair(_duplicate),
    "rename key": _on_pair(_rename),
    "retype": _on_pair(_retype),
    "number": _on_pair(_number),
    "nest": _on_pair(_nest),
    "odd sign": _on_pair(_odd_sign),
    "move value": _on_pair(_move_value),
    "anchor": _on_pair(_anchor),
    "repeat": _on_pair(_many),
    "music": other_music,
    "figures": edit_figures,
    "pitches": edit_pitches,
    "row": edit_row,
    "bars": edit_bars,
    "lines": edit_lines,
    "signs": edit_signs,
    "whole": edit_whole,
}
"""Name -> change; changes to the music come more often, since they leave YAML that can be read on."""
_WEIGHTS = [
    {"bars": 5, "music": 5, "pitches": 3, "row": 3, "figures": 4, "whole": 1}.get(name, 2) for name in MUTATIONS
]


def damage_bytes(content: bytes, chance: random.Random) -> bytes:
    """A file cut off, one bit turned, or saved in another encoding."""
    how = chance.randrange(4)
    if how == 0:
        return content[: chance.randrange(len(content) + 1)]
    if how == 1 and content:
        at = chance.randrange(len(content))
        return content[:at] + bytes([content[at] ^ 1 << chance.randrange(8)]) + content[at + 1 :]
    if how == 2:
        return content.decode("utf-8", "replace").encode(chance.choice(("utf-16", "utf-32", "latin-1")), "replace")
    return b"\xef\xbb\xbf" + content


def mutate(text: str, chance: random.Random) -> tuple[bytes, list[str]]:
    """One to three changes to a file's text; returns the bytes of the file and the names of the changes.

    A change that finds nothing to change (music in an instrument) gives way to another, three times.
    """
    names = []
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        for _ in range(4):
            name = chance.choices(list(MUTATIONS), _WEIGHTS)[0]
            changed = MUTATIONS[name](text, chance)
            if changed != text:
                break
        names.append(name)
        text = changed
    content = text.encode("utf-8", "surrogatepass")
    if chance.random() < 0.06:
        return damage_bytes(content, chance), [*names, "bytes"]
    return content, names
