"""The points for rhythm against listeners' judgements."""

from __future__ import annotations

from fractions import Fraction as F

from graded_music import grade, melody, read_onsets

# Shmulevich & Povel 2000, mean judged difficulty (1-5) of sixteen-pulse rhythms: the first twelve pulses; 1000 follows.
# Numbers 19 and 20 of the list are left out: one of them is a transcription error.
JUDGED = """
111110011010:1.56 111010111001:2.12 101110111001:2.08 101011111001:1.88 100110101111:1.80 111011101100:2.44
101111011001:2.20 110011111010:2.56 110010111011:3.00 101110111100:2.04 111011001101:2.76 110111101001:2.72
110110111100:3.00 110011011011:3.16 100111011101:2.04 110111101100:2.88 110111011100:2.60 110111001101:2.60
111110110100:3.08 111101001110:3.04 111001101110:3.04 101110010111:2.56 101001111011:2.56 111101010011:2.84
110111010011:3.60 110100111011:2.68 101111010011:3.28 100111110110:3.08 111101110010:3.52 111100110110:3.60
110111100110:3.04 110100111110:2.88 101001110111:3.08
"""


def ranks(values):
    """Ranks from 1, ties sharing their mean rank."""
    ordered = sorted(values)
    return [ordered.index(value) + (ordered.count(value) + 1) / 2 for value in values]


def correlate_ranks(left, right):
    """Spearman's coefficient: Pearson's over the ranks."""
    a, b = ranks(left), ranks(right)
    mean = (len(a) + 1) / 2
    top = sum((x - mean) * (y - mean) for x, y in zip(a, b, strict=True))
    return top / (sum((x - mean) ** 2 for x in a) * sum((y - mean) ** 2 for y in b)) ** 0.5


def test_rhythm_points_rank_as_listeners_judged():
    pairs = [entry.split(":") for entry in JUDGED.split()]
    graded = [grade(melody(read_onsets(f"{rhythm}1000"), 1)) for rhythm, _ in pairs]
    judged = [float(value) for _, value in pairs]
    assert len(pairs) == 33
    # Measured: 0.73 for syncopation alone, 0.70 for the distance from the beat, 0.75 for both, 0.78 for everything.
    assert correlate_ranks([found.points["syncopation"] for found in graded], judged) > 0.7
    assert correlate_ranks([found.points["off-beat"] for found in graded], judged) > 0.6
    rhythm = [found.points["syncopation"] + found.points["off-beat"] for found in graded]
    assert correlate_ranks(rhythm, judged) > 0.7
    assert correlate_ranks([found.total for found in graded], judged) > 0.7


def test_a_slower_beat_does_not_change_the_rhythm():
    onsets = read_onsets("1001001000101000")
    twice = [2 * onset for onset in onsets]
    quarters, halves = grade(melody(onsets, 1)), grade(melody(twice, 1, meter="4/2"), meter="4/2")
    assert quarters.points["syncopation"] == halves.points["syncopation"]
    assert F(quarters.measures["off-beat"]).limit_denominator(100) == F(14, 5)
