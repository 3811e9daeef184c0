"""More than three hundred texts that try to run, break out, steer, or overflow."""

from __future__ import annotations

CANARY = "/CANARY/"
"""What `hostile_strings` puts the watched file's path for."""

_COMMANDS = (
    '(system "touch /CANARY/")',
    '(system* "touch" "/CANARY/")',
    '(open-output-file "/CANARY/")',
    '(call-with-output-file "/CANARY/" newline)',
    '(load "/CANARY/")',
    "(exit 7)",
    "(let loop () (loop))",
    '(ly:gulp-file "/etc/passwd")',
    '(begin (use-modules (ice-9 popen)) (open-input-pipe "touch /CANARY/"))',
)
_FRAMES = (
    "#{0}",
    "${0}",
    '" #{0} "',
    '" ${0} "',
    '\\" #{0} \\"',
    '"}} #{0} {{"',
    "\\markup #{0}",
    "% \n#{0}".replace("\n", " "),
    '"1*1/4 #{0}',
    "%}} #{0} %{{",
    "'#{0}'",
    "`#{0}`",
    "#@{0}",
    "$@{0}",
    '\\"\\" #{0}',
    '\\\\" #{0} \\\\"',
)

_ENGRAVER = r"""
\include "/etc/passwd"
\include "../../../../etc/passwd"
" \include "/etc/passwd" "
\version "9.99.9"
\score { c'4 }
\book { \bookpart { } }
\paper { #(system "touch /CANARY/") }
\markup \epsfile #X #10 "/etc/passwd"
\markup \verbatim-file "/etc/passwd"
\markup \image #X #10 "/etc/passwd"
\markup \postscript "(/CANARY/) (w) file closefile"
\markup \with-url "file:///etc/passwd" x
\header { title = "x" }
\language "none"
\stopTextSpan
\skip 1*1000000
\repeat unfold 1000000 { c }
}}}}}}}}
{{{{{{{{
>> >> >>
<< << <<
"
""
\"
\\"
\\\"
\
\\
%
%{
%}
#
#f
#t
#(
#)
$
'
`
~
_
__
--
|
||
<>
\breathe
r4 c'8
1*1/4
lyricmode
\x00
\u0041
\N{BULLET}
""".strip("\n").splitlines()

_PAGES = """
<b>bold</b>
<i>
</b>
<b
<img src="/etc/passwd"/>
<img src="file:///etc/passwd" width="9999"/>
<img src="http://127.0.0.1:9/x.png"/>
<font size="900">x</font>
<a href="javascript:alert(1)">x</a>
<para><seq/></para>
<onDraw name="x" label="y"/>
<script>alert(1)</script>
<svg onload="alert(1)"/>
<!--
-->
<![CDATA[
]]>
<?xpacket end="w"?>
<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]>&e;
&amp;
&lt;b&gt;
&#0;
&#x202e;
&e;
&
&&
&unknown;
&#99999999;
) Tj ET Q BT (
) Tj /XO Do (
(((
)))
\\) Tj
\\050\\051
endstream endobj
%%EOF
trailer << /Root 1 0 R >>
<< /S /JavaScript /JS (app.alert(1)) >>
/Launch /F (/bin/sh)
BDC EMC
/Span << /MCID 0 >> BDC
<FEFF0041>
*
**
***
****
*em*
**strong**
***both***
*a **b* c**
* not em *
\\*
\\\\*
a*b*c*d*
*<b>*
""".strip("\n").splitlines()

_FIELDS = """
{}
{0}
{tune}
{groove}
{chord}
{tune}{tune}{tune}
{tune.__class__}
{tune!r}
{tune:>999999}
{{tune}}
{{{tune}}}
{ tune }
{number}
{studio}
{self.__init__.__globals__}
{x
x}
}{
%s
%n%n%n
%(tune)s
%99999d
$HOME
${HOME}
$(touch /CANARY/)
`touch /CANARY/`
; touch /CANARY/ ;
| touch /CANARY/
&& touch /CANARY/
> /CANARY/
$((1<<99))
!touch /CANARY/
{{7*7}}
<%= 7*7 %>
#{7*7}
../../../../etc/passwd
..\\..\\windows
/etc/passwd
file:///etc/passwd
http://127.0.0.1:9/
javascript:alert(1)
data:text/html,<script>
\\\\server\\share
C:\\con
~root
nul
-rf
--out=/CANARY/
!!python/object/apply:os.system ["touch /CANARY/"]
!!python/name:os.system
*alias
&anchor
<<: *x
--- x
...
- list
? key
: value
# remark
@x
[1, 2
{a: b
null
true
.nan
1e999
0x41
1_000
2024-02-30
'; DROP TABLE tunes; --
__import__("os").system("touch /CANARY/")
eval(compile("1", "", "exec"))
""".strip("\n").splitlines()

_CONTROLS = tuple(chr(code) for code in (*range(0, 9), 11, 12, *range(14, 32), 127, 0x80, 0x85, 0x9B, 0x9F))
_FORMATS = tuple(
    "\u00ad\u034f\u061c\u115f\u17b4\u180e\u200b\u200c\u200d\u200e\u200f\u202a\u202b\u202c\u202d\u202e"
    "\u2028\u2029\u2060\u2061\u2066\u2067\u2068\u2069\u206a\ufeff\ufff9\ufffb\ufffe\uffff\ufdd0\ud800\udfff\ue000"
    "\U000e0001\U000e0041\U000e0100\U000f0000\U0010ffff\ufe0f\u20e3\u00a0\u2007\u202f\u3000\u1680\u2003"
)
_TERMINAL = (
    "\x1b[31mred",
    "\x1b]0;title\x07",
    "\x1b[2J\x1b[H",
    "\x1b[8m",
    "\x9b31m",
    "\r\nx: y",
    "\x08\x08\x08",
    "\x1b]8;;file:///x\x07",
)
_SCRIPTS = (
    "שלום עולם",
    "مرحبا بالعالم",
    "a שלום b",
    "नमस्ते",
    "ภาษาไทย",
    "བོད་སྐད",
    "中文字符",
    "日本語",
    "한국어",
    "Ελληνικά",
    "Кириллица",
    "Հայերեն",
    "ქართული",
    "ﷺ",
    "ﬁﬂﬃ",
    "ẞßſ",
    "İıŁł",
    "ÅÅÅ",
    "e\u0301e\u0301",
    "Z\u0335\u0321\u0322\u0317\u0349" * 20,
    "a" + "\u0301" * 300,
    "\u0301\u0301",
    "𝒜𝓁𝑔",
    "Ｆｕｌｌ",
    "①②③",
    "½⅓",
    "²³",
    "™©®",
    "€¥₿",
    "♭♯♮𝄪𝄫",
    "𝄞𝄢",
    "♩♪♫",
    "😀",
    "👩‍👩‍👧‍👦",
    "🏳️‍🌈",
    "🇫🇷",
    "👍🏽",
    "1️⃣",
    "🪗",
    "\u2603\ufe0e",
    "«»„“”‚‘’",
    "–—…",
    "  ",
    " lead",
    "trail ",
    "in  side",
    "\t",
    "ⓐ",
    "Ω≈ç√∫",
    "†‡•",
    "\u2022\u2022",
)
_LONG = (
    "A" * 190,
    "word " * 35,
    "W" * 100 + " " + "i" * 80,
    "-" * 180,
    "." * 180,
    "<" * 150,
    "&amp;" * 30,
    "{tune}" * 20,
    "*a* " * 40,
    "(" * 150,
    '"' * 150,
    "\\" * 150,
    "😀" * 60,
    "\u200b" * 150,
    "\u202e" * 90,
    "é" * 150,
    "x " * 90,
    "§" * 150,
    "ÀÉÎÕÜ" * 30,
    "0" * 190,
)


def _inject() -> list[str]:
    """Every frame round the first command, every command in the first frames."""
    return [frame.format(_COMMANDS[0]) for frame in _FRAMES] + [
        frame.format(command) for command in _COMMANDS[1:] for frame in _FRAMES[:4]
    ]


def hostile_strings(canary: str = CANARY) -> list[str]:
    """All texts, each once, with the watched file's path in them; at most 200 characters each."""
    inside = [f"a{sign}b" for sign in (*_CONTROLS, *_FORMATS)]
    texts = [*_inject(), *_ENGRAVER, *_PAGES, *_FIELDS, *inside, *_TERMINAL, *_SCRIPTS, *_LONG]
    return [text.replace(CANARY, canary)[:200] for text in dict.fromkeys(texts)]
