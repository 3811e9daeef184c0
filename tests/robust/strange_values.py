"""What the fuzzer puts into course files: odd characters, numbers, values, bar tokens, and music that is merely unusual."""

from __future__ import annotations

_LINES = "\u2028 \x85 \uffff \ufeff \x00 \x1b[31m \ufffd"
_MARKS = "\u202e \u200b \u00ad Ω שלום ﬁ 𝄞 \U0001f9ed ½ ٣ １ \\ \" ' # { } [ % @ ` *a | > ? ~ \r"
STRANGE = (*_LINES.split(" "), *_MARKS.split(" "), "\u0301" * 40, "\t", "\u00a0", ": ", "- ", "&a ", "!t ")
"""Characters that mean something to a terminal, a font, YAML or the engraver."""

NUMBERS = (
    *"-1 0 1e400 -0 nan .inf 0x7fffffff 1_000 0o17 1/0 0/1 1/3 7/5 3.5 ١٢ ² 1e3 +4 00012 400 399 64".split(),
    *("12/16", "99/16", "1/16", "9" * 30, "9" * 6000),
)

VALUES = (
    *"null ~ true No 2024-02-30 [] {} '' \"\" | *x << = [[[]]] {tune} '{nothing}' ../../etc/passwd /etc/passwd 2/4".split(),
    *("[1, 2]", "{a: b}", '" "', ">-\n  text", "!!python/name:os.system x", "!!binary aGk=", "&x 1", "- a", "? a"),
    *(
        "[a, [b, {c: d}]]",
        '"\\x07"',
        '"\\u2028"',
        '"\\ud800"',
        "A" * 3000,
        '"' + "word " * 5000 + '"',
        "G major",
        "together",
    ),
)

BAR_TOKENS = (
    *"| || |: ~ \\breathe r4 r1 r c'1. c'128 c'4.. c'4*2/3 cisis''''4 ces,,,,8 h4 c'4-9 c'4-0 c'0 c'4096 feses'2".split(),
    *"#(exit) %{ s4 R1 b'8.-5~ q . % C Dm7b5 G/B N.C. Bb7 F#dim Caug Esus4 H7 C/Q x - r f a t > 1 e & n } c'\\longa".split(),
    *(
        "<c e g>4",
        "\\tuplet 3/2 {",
        "\\tuplet 5/4 { c'16 d' e' f' g' }",
        "\\tuplet 3/2 { c'8 d' }",
        "\\tuplet 0/0 { c'4 }",
    ),
    *("\\tuplet 7/4 { a'16 a' a' a' a' a' a' }", "\\grace c'8", "c'4~ c'4", "b'8.-5~ b'16"),
)
"""Notes, chords and row signs, sound ones and others."""

MUSIC = {
    "meter": "2/4 3/4 4/4 6/8 5/4 7/8 9/8 12/8 2/2 3/2 3/8 5/8 6/4 1/4 24/16 2/8".split(),
    "key": "C major;F# major;Gb major;C# minor;Ab minor;D dorian;E phrygian;Cb major;A# minor;F lydian".split(";"),
    "chord": "C Am G7 F#m7b5 Bbmaj7 Ddim7 Eaug Asus4 C/E B9 Cb E#m Fmaj9 G7#9".split(),
    "slots": "1 2 3 4 6".split(),
    "swing": "1/2 2/3 3/5 4/5 5/8".split(),
    "kind": "count melody fill arrangement shapes".split(),
    "lowest": "c b f' c''".split(),
    "highest": "c'' d' g'' e''".split(),
    "first_column": "C Bbb F# Cb Ebb B#".split(),
    "columns": "1 2 24 6".split(),
    "rows": "[bass];[bass, major];[major];[counterbass, bass, diminished];[counterbass]".split(";"),
    "fingering": "two three".split(),
    "right": "melody shapes fill".split(),
    "paper": "A4 A5 B4 Letter".split(),
    "upbeat": "0 1/8 1/16 1/4 1/12".split(),
    "staff": "5 14 7.5".split(),
    "text_size": "7 30".split(),
    "widest_span": "5 17".split(),
    "large_print": "true false".split(),
    "booklet": "true false".split(),
    "full": "0.01 120".split(),
    "voice": "0 5".split(),
    "bars": "1 2 3 64".split(),
    "introduction": "1 2 16".split(),
    "sections": "A;B;[A, A, B]".split(";"),
    "shake": "A;B;A B".split(";"),
    "form": "A;A A A A;B A;A B A".split(";"),
    "tempo": "{start: 10, goal: 400};[10, 400];{start: 60, goal: 60}".split(";"),
}
"""Key -> other values it may well have, so that reading goes on and the music is made of them."""
