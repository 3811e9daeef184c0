\language "english"
#(ly:set-option 'point-and-click #f)
#(ly:font-config-add-directory bb-fonts)
#(set-global-staff-size bb-staff-size)

% A run begins without collecting garbage, which is quicker, and collects once the heap is as large as this (bytes).
#(define bb-heap-limit 300000000)
#(define bb-collecting #f)
#(define (bb-watch-heap)
   (if (and (not bb-collecting) (> (assq-ref (gc-stats) 'heap-size) bb-heap-limit))
       (begin (set! bb-collecting #t) (gc-enable))))
#(define (bb-heap-watcher context) (make-engraver ((initialize engraver) (bb-watch-heap))))

#(define bb-geometry (open-output-file bb-geometry-file))

#(define (bb-number x) (if (and (real? x) (finite? x)) (number->string (exact->inexact (/ (round (* x 10000)) 10000))) "null"))

#(define (bb-interval i scale)
   (format #f "[~a, ~a]" (bb-number (* scale (car i))) (bb-number (* scale (cdr i)))))

% A grob's moment and name, for the tests that compare what was drawn with what was arranged.
#(define (bb-cause grob)
   (let* ((cause (event-cause grob)))
     (if (and cause (ly:stream-event? cause))
         (let ((text (ly:event-property cause 'text)) (pitch (ly:event-property cause 'pitch)))
           (cond ((ly:pitch? pitch) (number->string (+ 60 (ly:pitch-semitones pitch))))
                 ((string? text) text)
                 (else "")))
         "")))

#(define (bb-json-string s)
   (string-append "\"" (string-join (map (lambda (c) (cond ((char=? c #\") "\\\"") ((char=? c #\\) "\\\\") (else (string c))))
                                         (string->list s)) "") "\""))

#(define (bb-grob->json g system scale)
   (let ((moment (grob::when g)))
     (format #f "{\"name\": \"~a\", \"x\": ~a, \"y\": ~a, \"when\": \"~a\", \"what\": ~a}"
       (grob::name g)
       (bb-interval (ly:grob-extent g system X) scale)
       (bb-interval (ly:grob-extent g system Y) scale)
       (if moment (ly:moment-main moment) "")
       (bb-json-string (bb-cause g)))))

#(define bb-wanted '(LyricText NoteHead Stem StaffSymbol Fingering TextScript Rest))

#(define (bb-line->json line name scale)
   (let* ((stencil (ly:prob-property line 'stencil))
          (system (ly:prob-property line 'system-grob))
          (all (if (ly:grob? system) (ly:grob-array->list (ly:grob-object system 'all-elements)) '()))
          (staves (filter (lambda (g) (eq? (grob::name g) 'StaffSymbol)) all))
          (shown (if bb-dump-grobs (filter (lambda (g) (memq (grob::name g) bb-wanted)) all) '())))
     (format #f "\"x\": ~a, \"y\": ~a, \"staves\": [~a], \"grobs\": [~a]"
       (bb-interval (ly:stencil-extent stencil X) scale)
       (bb-interval (ly:stencil-extent stencil Y) scale)
       (string-join (map (lambda (g) (format #f "[~a, ~a]" (bb-interval (ly:grob-extent g system X) scale)
                                                         (bb-interval (ly:grob-extent g system Y) scale))) staves) ", ")
       (string-join (map (lambda (g) (bb-grob->json g system scale)) shown) ",\n "))))

% One JSON line a page; a page holds one system. Lengths in PostScript points.
#(define (bb-dump layout pages)
   (let ((scale (* (ly:output-def-lookup layout 'output-scale) (/ 72 25.4)))
         (name (ly:output-def-lookup layout 'bb-name)))
     (for-each
       (lambda (page)
         (let ((lines (ly:prob-property page 'lines)) (places (ly:prob-property page 'configuration)))
           (for-each
             (lambda (line place)
               (format bb-geometry "{\"exercise\": \"~a\", \"lines\": ~a, \"top\": ~a, \"left\": ~a, ~a}\n"
                 name (length lines) (bb-number (* scale (+ place (ly:output-def-lookup layout 'top-margin))))
                 (bb-number (* scale (ly:output-def-lookup layout 'left-margin)))
                 (bb-line->json line name scale)))
             lines places)))
       pages)
     (force-output bb-geometry)
     (bb-watch-heap)))

\paper {
  paper-width = #(* bb-paper-width mm)
  paper-height = #(* bb-paper-height mm)
  left-margin = #(* bb-left-margin mm)
  line-width = #(* bb-line-width mm)
  top-margin = 10\mm
  bottom-margin = 5\mm
  indent = 0
  ragged-right = ##f
  ragged-last = ##f
  ragged-bottom = ##t
  max-systems-per-page = 1
  blot-diameter = 0
  tagline = ##f
  oddHeaderMarkup = ##f
  evenHeaderMarkup = ##f
  oddFooterMarkup = ##f
  evenFooterMarkup = ##f
  page-post-process = #bb-dump
  #(define fonts (set-global-fonts #:roman bb-serif #:sans bb-sans #:factor (/ staff-height pt 20)))
}

% A syllable stands with its middle under the middle of a black notehead.
#(define (bb-centre grob)
   (let ((stencil (ly:grob-property grob 'stencil)))
     (if (ly:stencil? stencil) (- 0.6525 (interval-center (ly:stencil-extent stencil X))) 0)))

hit = \once \override LyricText.font-series = #'bold
% The syllables of a triplet stand closest: a little more white keeps them words.
apart = \once \override LyricText.extra-spacing-width = #'(-0.5 . 0.5)
held = \once \override LyricText.color = #(rgb-color 0.5 0.5 0.5)

% The left hand in one voice: basses with the stem up, chords with the stem down; a beam over both lies below.
#(define (bb-grobs grob name)
   (let ((found (ly:grob-object grob name))) (if (ly:grob-array? found) (ly:grob-array->list found) '())))

#(define (bb-basses? stem)
   (every (lambda (head) (<= (ly:grob-property head 'staff-position) 0)) (bb-grobs stem 'note-heads)))

#(define (bb-beam-side beam) (if (every bb-basses? (bb-grobs beam 'stems)) UP DOWN))

#(define (bb-stem-side stem)
   (let ((beam (ly:grob-object stem 'beam)))
     (cond ((ly:grob? beam) (ly:grob-property beam 'direction))
           ((bb-basses? stem) UP)
           (else DOWN))))

stemsByRow = {
  \override Stem.direction = #bb-stem-side
  \override Beam.direction = #bb-beam-side
  % Bass and chord lie far apart: flatter beams leave the fingers room.
  \override Beam.damping = #3
  \override Fingering.padding = #0.7
}

% Words of the row of the bellows and "sim.": large print has nothing slanting and no small letters.
#(define bb-word-size (if bb-large 0.3 -1.5))
#(define bb-shake-size (if bb-large 0.3 -1))

#(define-markup-command (simile-word layout props) ()
   (interpret-markup layout props
     (if bb-large (markup #:sans #:fontsize 0.3 "sim.") (markup #:italic #:fontsize -1 "sim."))))

% What was accented goes on being accented; below the fingers.
simile = -\tweak outside-staff-priority #450 -\tweak direction #DOWN -\tweak staff-padding #1.4
  -\tweak self-alignment-X #LEFT -\tweak parent-alignment-X #LEFT
  -\markup \simile-word

#(define-markup-command (letter layout props text) (string?)
   (interpret-markup layout props (markup #:sans #:bold #:fontsize -0.5 text)))

#(define-markup-command (bellows-word layout props glyph text) (string? string?)
   (interpret-markup layout props
     (if (string-null? text)
         (markup #:fontsize 1.5 #:musicglyph glyph #:hspace 0.3)
         (markup #:concat (#:general-align Y CENTER #:fontsize 1.5 #:musicglyph glyph #:hspace 0.5
                           #:general-align Y CENTER #:sans #:fontsize bb-word-size text #:hspace 0.4)))))

% The hook that ends a bellows line; a word there says that air is taken.
#(define-markup-command (bellows-end layout props text) (string?)
   (interpret-markup layout props
     (if (string-null? text)
         (markup #:draw-line '(0 . -0.9))
         (markup #:concat (#:draw-line '(0 . -0.9) #:hspace 0.3 #:sans #:fontsize bb-word-size text)))))

bellowsSpan =
#(define-music-function (glyph text broken end room) (string? string? string? string? number?)
   #{ <>-\tweak bound-details.left.text \markup \bellows-word #glyph #text
        -\tweak bound-details.right.text \markup \bellows-end #end
        -\tweak bound-details.right.padding #room
        -\tweak bound-details.left-broken.text \markup \bellows-word #glyph #broken
        \startTextSpan #})

shakeSpan =
#(define-music-function (text) (string?)
   #{ <>-\tweak style #'trill
        -\tweak bound-details.right.text ##f
        -\tweak bound-details.right.padding #0.6
        -\tweak bound-details.left.text \markup \concat { \sans \fontsize #bb-shake-size #text \hspace #0.6 }
        -\tweak bound-details.left-broken.text \markup \concat { \sans \fontsize #bb-shake-size #text \hspace #0.6 }
        \startTextSpan #})

stroke =
#(define-music-function (glyph) (string?)
   #{ <>-\tweak X-offset #bb-centre -\markup \general-align #Y #CENTER \fontsize #1 \musicglyph #glyph #})

\layout {
  \context {
    \Lyrics
    \name Counting
    \alias Lyrics
    \override LyricText.X-offset = #bb-centre
    \override LyricText.font-family = #'sans
    \override LyricText.font-size = #bb-count-size
    \override LyricText.extra-spacing-width = #'(-0.25 . 0.25)
    \override LyricSpace.minimum-distance = #0.2
    \override VerticalAxisGroup.staff-affinity = #UP
    \override VerticalAxisGroup.nonstaff-relatedstaff-spacing =
      #'((basic-distance . 4.2) (minimum-distance . 3.4) (padding . 0.9) (stretchability . 0))
    \override VerticalAxisGroup.nonstaff-unrelatedstaff-spacing.padding = #1.3
  }
  \context {
    \Lyrics
    \name ChordMarks
    \alias Lyrics
    \override LyricText.self-alignment-X = #LEFT
    \override LyricText.parent-alignment-X = #LEFT
    \override LyricText.font-family = #'sans
    \override LyricText.font-series = #'bold
    \override LyricText.font-size = #0.6
    \override LyricText.extra-spacing-width = #'(+inf.0 . -inf.0)
    \override LyricSpace.minimum-distance = #0
    \override VerticalAxisGroup.staff-affinity = #DOWN
    \override VerticalAxisGroup.nonstaff-relatedstaff-spacing.padding = #1.0
  }
  \context {
    \Dynamics
    \name Bellows
    \alias Dynamics
    \override TextSpanner.to-barline = ##t
    \override TextSpanner.style = #'line
    \override TextSpanner.outside-staff-priority = ##f
    \override TextScript.outside-staff-priority = ##f
    \override TextSpanner.Y-offset = #0
    \override TextScript.Y-offset = #0
    \override TextSpanner.font-shape = #'upright
    \override TextSpanner.thickness = #1.2
    \override TextSpanner.bound-details.left.padding = #-0.2
    \override TextSpanner.bound-details.left.stencil-align-dir-y = #CENTER
    \override TextSpanner.bound-details.left-broken.stencil-align-dir-y = #CENTER
    \override TextSpanner.bound-details.right-broken.text = ##f
    \override VerticalAxisGroup.staff-affinity = #DOWN
    \override VerticalAxisGroup.nonstaff-relatedstaff-spacing.padding = #0.7
    \override VerticalAxisGroup.nonstaff-nonstaff-spacing.padding = #0.9
  }
  \context { \PianoStaff \accepts Bellows \accepts Counting \accepts ChordMarks
    \override StaffGrouper.staff-staff-spacing.padding = #1
  }
  \context {
    \Score
    \accepts Bellows \accepts Counting \accepts ChordMarks
    \consists #bb-heap-watcher
    \accidentalStyle modern
    \override SpacingSpanner.uniform-stretching = ##t
    \override NonMusicalPaperColumn.line-break-permission = ##f
    \override BarNumber.font-size = #-0.5
    \override BarNumber.font-family = #'sans
    \override BarNumber.self-alignment-X = #CENTER
    % A line that begins with an upbeat has the number of the bar it leads to.
    barNumberVisibility = #(lambda (number place) (> number 1))
    barNumberFormatter = #(lambda (number place alternative context) (number->string number))
    \override MultiMeasureRest.expand-limit = #1
    \override VoltaBracket.font-size = #-1
    \override VoltaBracket.font-family = #'sans
    \override Fingering.font-size = #-4
    \override Fingering.add-stem-support = ##t
    \override Fingering.padding = #0.4
  }
  \context { \Staff
    \override TimeSignature.style = #'numbered
  }
  \context { \RhythmicStaff
    \override TimeSignature.style = #'numbered
  }
  \context { \Voice
    \override Rest.voiced-position = #0
    \override MultiMeasureRest.voiced-position = #0
    \override TupletBracket.bracket-visibility = #'if-no-beam
    \override TupletNumber.font-size = #-2
    \override TupletNumber.font-shape = #(if bb-large 'upright 'italic)
    \override TupletNumber.font-family = #(if bb-large 'sans 'roman)
  }
}

% Braces for two staves as near and as far apart as they come, one over the other.
#(define-markup-command (braces layout props) ()
   (apply ly:stencil-add
     (map (lambda (number)
            (interpret-markup layout props
              (markup #:override '(font-encoding . fetaBraces) #:lookup (format #f "brace~a" number))))
          (iota 150 170))))

% The characters and signs that most exercises have, in the sizes they have there. Every batch begins with them, so that
% the fonts cut to what a batch needs come out the same, and a book of many batches holds them once.
bbSpecimen = \markup \column {
  \sans "0123456789 &.,'-abcdefghijklmnopqrstuvwxyz"
  \sans "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
  \sans \bold "0123456789 &.,'-abcdefghijklmnopqrstuvwxyz"
  \sans \bold "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
  \italic "sim.2345679"
  \number "0123456789"
  \finger \fontsize #1 "12345"
  \override #'(font-encoding . fetaText) \override #'(font-features . ("cv47" "ss01")) \fontsize #-1 "1.2.3."
  \concat { \musicglyph "clefs.G" \musicglyph "clefs.F" }
  \concat { \musicglyph "noteheads.s0" \musicglyph "noteheads.s1" \musicglyph "noteheads.s2" \musicglyph "dots.dot" }
  \concat { \musicglyph "rests.0" \musicglyph "rests.1" \musicglyph "rests.2" \musicglyph "rests.3" \musicglyph "rests.4" }
  \concat { \musicglyph "flags.u3" \musicglyph "flags.d3" \musicglyph "flags.u4" \musicglyph "flags.d4" }
  \concat { \musicglyph "accidentals.sharp" \musicglyph "accidentals.flat" \musicglyph "accidentals.natural" }
  \concat { \musicglyph "scripts.sforzato" \musicglyph "scripts.staccato" \musicglyph "scripts.trill_element" }
  \fontsize #1.5 \concat { \musicglyph "accordion.pull" \musicglyph "accordion.push" }
  \fontsize #-2.4 \concat { \musicglyph "accidentals.sharp" \musicglyph "accidentals.flat" }
  \braces
}

% The sound file, which only the tests ask for, knows the same contexts.
\midi {
  \context { \Lyrics \name Counting \alias Lyrics }
  \context { \Lyrics \name ChordMarks \alias Lyrics }
  \context { \Dynamics \name Bellows \alias Dynamics }
  \context { \PianoStaff \accepts Bellows \accepts Counting \accepts ChordMarks }
  \context { \Score \accepts Bellows \accepts Counting \accepts ChordMarks }
}

aboveLetters = \with {
  \override VerticalAxisGroup.nonstaff-relatedstaff-spacing.minimum-distance = #7.2
}

leftHand = {
  \clef bass
  \override TextScript.staff-padding = #2.4
  \override TextScript.outside-staff-priority = ##f
  \override TextScript.self-alignment-X = #CENTER
  \override TextScript.parent-alignment-X = #CENTER
  \override Fingering.direction = #DOWN
  \override Script.direction = #DOWN
  \override Fingering.staff-padding = #1.6
}
