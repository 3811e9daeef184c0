"""What the fuzzer puts into course files: odd characters, numbers, values, bar tokens, and music merely unusual."""

from __future__ import annotations


def _words(text: str, between: str = " ") -> list[str]:
    """The words of a table kept short."""
    return text.replace("\n", " ").split(between) if between != " " else text.split()


STRANGE = (
    *"\u2028\x85\uffff\ufeff\x00\ufffd\u202e\u200b\u00adΩﬁ𝄞\U0001f9ed½٣１\\\"'#{}[%@`|>?~\r\t\u00a0",
    *("\x1b[31m", "\u0301" * 40, "שלום", ": ", "- ", "&a ", "*a", "!t "),
)
"""Characters that mean something to a terminal, a font, YAML or the engraver."""

NUMBERS = (
    *_words("-1 0 1e400 -0 nan .inf 0x7fffffff 1_000 0o17 1/0 0/1 1/3 7/5 3.5 ١٢ ² 1e3 +4 00012 400 399 64"),
    *("12/16", "99/16", "1/16", "9" * 30, "9" * 6000),
)

VALUES = (
    *_words("null ~ true No 2024-02-30 [] {} '' \"\" | *x << = [[[]]] {tune} '{nothing}' ../../etc/passwd /etc 2/4"),
    *("[1, 2]", "{a: b}", '" "', ">-\n  text", "!!python/name:os.system x", "!!binary aGk=", "&x 1", "- a", "? a"),
    *("[a, [b, {c: d}]]", '"\\x07"', '"\\u2028"', '"\\ud800"', "A" * 3000, f'"{"word " * 5000}"', "G major", "melody"),
)

BAR_TOKENS = (
    *_words("| || |: ~ \\breathe r4 r1 r c'1. c'128 c'4.. c'4*2/3 cisis''''4 ces,,,,8 h4 c'4-9 c'4-0 c'0 c'4096 } n"),
    *_words("#(exit) %{ s4 R1 b'8.-5~ q . % C Dm7b5 G/B N.C. Bb7 F#dim Caug Esus4 H7 C/Q x - r f a t > 1 e & feses'2"),
    *("<c e g>4", "\\tuplet 3/2 {", "\\tuplet 5/4 { c'16 d' e' f' g' }", "\\tuplet 3/2 { c'8 d' }", "c'\\longa"),
    *("\\tuplet 7/4 { a'16 a' a' a' a' a' a' }", "\\grace c'8", "c'4~ c'4", "b'8.-5~ b'16", "\\tuplet 0/0 { c'4 }"),
)
"""Notes, chords and row signs, sound ones and others."""

_MUSIC = """\
meter = 2/4; 3/4; 4/4; 6/8; 5/4; 7/8; 9/8; 12/8; 2/2; 3/2; 3/8; 5/8; 6/4; 1/4; 24/16; 2/8
key = C major; F# major; Gb major; C# minor; Ab minor; D dorian; E phrygian; Cb major; A# minor; F lydian
chord = C; Am; G7; F#m7b5; Bbmaj7; Ddim7; Eaug; Asus4; C/E; B9; Cb; E#m; Fmaj9; G7#9
slots = 1; 2; 3; 4; 6
swing = 1/2; 2/3; 3/5; 4/5; 5/8
kind = count; melody; fill; arrangement; shapes
lowest = c; b; f'; c''
highest = c''; d'; g''; e'''
first_column = C; Bbb; F#; Cb; Ebb; B#
columns = 1; 2; 24; 6
rows = [bass]; [bass, major]; [major]; [counterbass, bass, diminished]; [counterbass]
fingering = two; three
right = melody; shapes; fill
paper = A4; A5; B4; Letter
upbeat = 0; 1/8; 1/16; 1/4; 1/12
staff = 5; 14; 7.5
text_size = 7; 30
widest_span = 5; 17
large_print = true; false
runs = true; false
booklet = true; false
full = 0.01; 120
voice = 0; 5
bars = 1; 2; 3; 64
introduction = 1; 2; 16
sections = A; B; [A, A, B]
shake = A; B; A B
form = A; A A A A; B A; A B A
tempo = {start: 10, goal: 400}; [10, 400]; {start: 9, goal: 99, beat: 1/12}; {start: 50, goal: 90, beat: 5/8}
start = 10; 399; 60
beat = 1/2; 3/8; 1/32; 7/16; 1
"""
MUSIC = {key: _words(values, "; ") for key, values in (line.split(" = ") for line in _MUSIC.splitlines())}
"""Key -> other values it may well have, so that reading goes on and the music is made of them."""
