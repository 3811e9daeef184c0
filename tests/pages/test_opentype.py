"""Kerning and small capitals against another reader of the same tables (fontTools, an independent library)."""

from __future__ import annotations

import fontTools.ttLib as ttlib
import pytest

from bookbuild.pages.fonts import FILES
from bookbuild.pages.opentype import LayoutTables
from tests.pages.made_up import FONTS

LETTERS = "ABDFLPTVWYabcefgoruvwy.,-1247"


def lookups_of(table: object, feature: str) -> list[int]:
    script = next(s.Script for s in table.ScriptList.ScriptRecord if s.ScriptTag == "latn")  # type: ignore[attr-defined]
    records = [table.FeatureList.FeatureRecord[i] for i in script.DefaultLangSys.FeatureIndex]  # type: ignore[attr-defined]
    return sorted({i for r in records if r.FeatureTag == feature for i in r.Feature.LookupListIndex})


def kern_by_fonttools(font: object, left: str, right: str) -> int:
    table = font["GPOS"].table  # type: ignore[index]
    for index in lookups_of(table, "kern"):
        for sub in table.LookupList.Lookup[index].SubTable:
            sub = sub.ExtSubTable if sub.LookupType == 9 else sub
            if sub.LookupType != 2 or left not in sub.Coverage.glyphs:
                continue
            if sub.Format == 1:
                record = sub.PairSet[sub.Coverage.glyphs.index(left)].PairValueRecord
                found = [r.Value1.XAdvance for r in record if r.SecondGlyph == right]
                if found:
                    return int(found[0])
            else:
                first = sub.ClassDef1.classDefs.get(left, 0)
                second = sub.ClassDef2.classDefs.get(right, 0)
                return int(getattr(sub.Class1Record[first].Class2Record[second].Value1, "XAdvance", 0))
    return 0


@pytest.mark.parametrize("name", ["sans", "sans-bold", "serif", "serif-italic"])
def test_kerning_is_what_another_reader_finds(name: str) -> None:
    path = FONTS / FILES[name]
    font, ours = ttlib.TTFont(path), LayoutTables(path.read_bytes())
    names = font.getBestCmap()
    pairs = [(names[ord(a)], names[ord(b)]) for a in LETTERS for b in LETTERS]
    found = {pair: ours.kern(font.getGlyphID(pair[0]), font.getGlyphID(pair[1])) for pair in pairs}
    assert found == {pair: kern_by_fonttools(font, *pair) for pair in pairs}
    assert sum(value < 0 for value in found.values()) > 50


@pytest.mark.parametrize("name", ["sans", "sans-semibold", "serif"])
def test_small_capitals_are_what_another_reader_finds(name: str) -> None:
    path = FONTS / FILES[name]
    font, ours = ttlib.TTFont(path), LayoutTables(path.read_bytes())
    table = font["GSUB"].table
    theirs: dict[int, int] = {}
    for index in lookups_of(table, "smcp"):
        for sub in table.LookupList.Lookup[index].SubTable:
            sub = sub.ExtSubTable if sub.LookupType == 7 else sub
            if sub.LookupType != 1:
                continue
            for old, new in sub.mapping.items():
                theirs.setdefault(font.getGlyphID(old), font.getGlyphID(new))
    assert ours.small_capitals() == theirs
    glyph = theirs[font.getGlyphID("a")]
    assert ours.advance(glyph) == font["hmtx"][font.getGlyphName(glyph)][0]
