"""Pair kerning and small capitals read from a font's own tables (OpenType 1.9: GPOS, GSUB, hmtx). Pure: bytes in."""

from __future__ import annotations

from collections.abc import Iterator
from struct import unpack_from

EXTENSION_POS, EXTENSION_SUB, PAIR, SINGLE = 9, 7, 2, 1


class LayoutTables:
    """The layout tables of one font; glyphs are glyph indices, distances are font units."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        count = unpack_from(">H", data, 4)[0]
        self._tables = {data[at : at + 4]: unpack_from(">I", data, at + 8)[0] for at in range(12, 12 + 16 * count, 16)}
        self._pairs = [_PairTable(data, at) for at in self._subtables(b"GPOS", b"kern", PAIR, EXTENSION_POS)]
        self._pairs_of: dict[int, list[_PairTable]] = {}

    def kern(self, left: int, right: int) -> int:
        """How far `right` moves towards `left` (negative) or away: the first pair subtable that knows the pair."""
        if left not in self._pairs_of:
            self._pairs_of[left] = [table for table in self._pairs if table.covers(left)]
        found = (table.value(left, right) for table in self._pairs_of[left])
        return next((value for value in found if value is not None), 0)

    def small_capitals(self) -> dict[int, int]:
        """Glyph of a small letter -> glyph of its small capital; {} for a font without any."""
        swaps: dict[int, int] = {}
        for at in self._subtables(b"GSUB", b"smcp", SINGLE, EXTENSION_SUB):
            for glyph, new in _single_swaps(self._data, at):
                swaps.setdefault(glyph, new)
        return swaps

    def advance(self, glyph: int) -> int:
        """The glyph's advance width."""
        metrics = unpack_from(">H", self._data, self._tables[b"hhea"] + 34)[0]
        return int(unpack_from(">H", self._data, self._tables[b"hmtx"] + 4 * min(glyph, metrics - 1))[0])

    def _subtables(self, table: bytes, feature: bytes, kind: int, extension: int) -> list[int]:
        """Offsets of the subtables of `kind` that a feature's lookups use, in lookup order."""
        if table not in self._tables:
            return []
        data, start = self._data, self._tables[table]
        scripts, features, lookups = (start + offset for offset in unpack_from(">HHH", data, start + 4))
        wanted: set[int] = set()
        for index in _default_features(data, scripts):
            at = features + 2 + 6 * index
            if data[at : at + 4] == feature:
                entry = features + unpack_from(">H", data, at + 4)[0]
                count = unpack_from(">H", data, entry + 2)[0]
                wanted |= set(unpack_from(f">{count}H", data, entry + 4))
        return [at for index in sorted(wanted) for at in _lookup_parts(data, lookups, index, kind, extension)]


def _default_features(data: bytes, scripts: int) -> tuple[int, ...]:
    """Indices of the features of Latin script in its default language (a Turkish small capital i has a dot)."""
    found = {}
    for place in range(unpack_from(">H", data, scripts)[0]):
        at = scripts + 2 + 6 * place
        found[data[at : at + 4]] = scripts + unpack_from(">H", data, at + 4)[0]
    script = found.get(b"latn", found.get(b"DFLT"))
    default = unpack_from(">H", data, script)[0] if script else 0
    if not script or not default:
        return ()
    count = unpack_from(">H", data, script + default + 4)[0]
    return unpack_from(f">{count}H", data, script + default + 6)


def _lookup_parts(data: bytes, lookups: int, index: int, kind: int, extension: int) -> Iterator[int]:
    """Offsets of a lookup's subtables, when it is of `kind`, seen through extension subtables."""
    lookup = lookups + unpack_from(">H", data, lookups + 2 + 2 * index)[0]
    found, _, count = unpack_from(">HHH", data, lookup)
    for place in range(count):
        at = lookup + unpack_from(">H", data, lookup + 6 + 2 * place)[0]
        if found == extension:
            if unpack_from(">H", data, at + 2)[0] == kind:
                yield at + unpack_from(">I", data, at + 4)[0]
        elif found == kind:
            yield at


def _coverage(data: bytes, at: int) -> dict[int, int]:
    """Glyph -> coverage index."""
    form, count = unpack_from(">HH", data, at)
    if form == 1:
        return {glyph: index for index, glyph in enumerate(unpack_from(f">{count}H", data, at + 4))}
    covered: dict[int, int] = {}
    for place in range(count):
        first, last, index = unpack_from(">HHH", data, at + 4 + 6 * place)
        covered.update((glyph, index + glyph - first) for glyph in range(first, last + 1))
    return covered


def _classes(data: bytes, at: int) -> dict[int, int]:
    """Glyph -> class; glyphs left out are of class 0."""
    form = unpack_from(">H", data, at)[0]
    if form == 1:
        first, count = unpack_from(">HH", data, at + 2)
        return {first + place: kind for place, kind in enumerate(unpack_from(f">{count}H", data, at + 6))}
    classes: dict[int, int] = {}
    for place in range(unpack_from(">H", data, at + 2)[0]):
        start, end, kind = unpack_from(">HHH", data, at + 4 + 6 * place)
        classes.update(dict.fromkeys(range(start, end + 1), kind))
    return classes


def _single_swaps(data: bytes, at: int) -> Iterator[tuple[int, int]]:
    """(glyph, replacement) of a single substitution."""
    form, coverage, third = unpack_from(">HHh", data, at)
    for glyph, index in _coverage(data, at + coverage).items():
        yield glyph, (glyph + third) & 0xFFFF if form == 1 else unpack_from(">H", data, at + 6 + 2 * index)[0]


def _advance_offset(first_format: int) -> int | None:
    """Where the horizontal advance stands in a value record (its size counts set bits), None when it has none."""
    return 2 * (first_format & 0x3).bit_count() if first_format & 0x4 else None


class _PairTable:
    """A pair adjustment subtable: by glyph (format 1) or by class (format 2)."""

    def __init__(self, data: bytes, at: int) -> None:
        self._data, self._at = data, at
        self._form, coverage, one, two = unpack_from(">HHHH", data, at)
        self._covered = _coverage(data, at + coverage)
        self._advance = _advance_offset(one)
        self._sizes = (2 * one.bit_count(), 2 * two.bit_count())
        if self._form == 2:
            first, second = unpack_from(">HH", data, at + 8)
            self._first, self._second = _classes(data, at + first), _classes(data, at + second)
            self._columns = unpack_from(">H", data, at + 14)[0]

    def covers(self, left: int) -> bool:
        """Whether the subtable may say something of a pair that begins with the glyph."""
        return self._advance is not None and left in self._covered

    def value(self, left: int, right: int) -> int | None:
        """The advance added to `left` before `right`; None when this subtable says nothing of the pair."""
        index = self._covered.get(left)
        if index is None or self._advance is None:
            return None
        at = self._class_record(left, right) if self._form == 2 else self._glyph_record(index, right)
        return None if at is None else int(unpack_from(">h", self._data, at + self._advance)[0])

    def _class_record(self, left: int, right: int) -> int | None:
        row, column = self._first.get(left, 0), self._second.get(right, 0)
        return self._at + 16 + (row * self._columns + column) * sum(self._sizes)

    def _glyph_record(self, index: int, right: int) -> int | None:
        pairs = self._at + unpack_from(">H", self._data, self._at + 10 + 2 * index)[0]
        size = 2 + sum(self._sizes)
        low, high = 0, unpack_from(">H", self._data, pairs)[0]
        while low < high:
            middle = (low + high) // 2
            at = pairs + 2 + middle * size
            glyph = unpack_from(">H", self._data, at)[0]
            if glyph == right:
                return at + 2
            low, high = (middle + 1, high) if glyph < right else (low, middle)
        return None
