% An engraver kept ready: all that a first run must look up is looked up by drawing a little of everything. Then it
% waits for orders, and carries each out in a copy of itself, which has all that in its memory.
\book {
  \bookpart {
    \paper { bb-name = "x0" }
    \score {
      <<
        \new Bellows { \bellowsSpan "accordion.pull" "open" "" "air" #0.6 s2 <>\stopTextSpan \shakeSpan "shake" s2 <>\stopTextSpan }
        \new ChordMarks \with { \aboveLetters } \lyricmode { \markup \concat { "B" \flat "7" } 1*1 }
        \new PianoStaff <<
          \new Staff << \key bf \major
            { \time 4/4 \repeat volta 2 { s1 } \bar "|." }
            { <>\stroke "accordion.push" bf'8-1->[ c''16-2 ds''-.] \tuplet 3/2 { ef''8 f'' g'' } r8 a'4.~ \break a'1 }
          >>
          \new Counting \lyricmode { \hit "1"1*1/4 \apart "&"1*1/4 \held "3"1*1/2 }
          \new Staff << \leftHand \key bf \major
            { \leftHand \stemsByRow bf,8-4-> <d f>8-3^\markup \letter "M" f,8-2-\simile <d f>8 bf,4 r4 R1 }
          >>
        >>
      >>
      \layout { }
    }
  }
}

#(use-modules (ice-9 rdelim) (ice-9 textual-ports))

% When nobody can give orders any more, it ends with all its copies. An order is a line: a folder that holds "input.ly" and a pipe named "end", and the seconds of computing allowed.
#(define (bb-serve)
   (let ((order (read-line (current-input-port))))
     (bb-let-go)
     (cond ((eof-object? order) (kill 0 SIGKILL))
           ((zero? (primitive-fork)) (apply bb-obey (string-split order #\space)))
           (else (bb-serve)))))

% Copies that have ended are let go of.
#(define (bb-let-go)
   (let ((ended (false-if-exception (waitpid WAIT_ANY WNOHANG))))
     (if (and ended (positive? (car ended))) (bb-let-go))))

% The copy tells its number, draws, and tells that it came to the end; however it ends, the system closes its pipe.
#(define bb-end #f)
#(define (bb-obey folder seconds)
   (close-port (current-input-port))
   (catch #t
     (lambda ()
       (chdir folder)
       (set! bb-end (open-output-file "end"))
       (format bb-end "~a\n" (getpid))
       (force-output bb-end)
       (redirect-port (open-output-file "log") (current-error-port))
       (let ((bound (string->number seconds)))
         (false-if-exception (setrlimit 'cpu bound bound)))
       (set! bb-geometry (open-output-file "geometry.jsonl"))
       (ly:parser-define! 'counter-alist '())
       (ly:parser-include-string
         (string-append (call-with-input-file "input.ly" get-string-all #:encoding "UTF-8") "\n#(bb-finish)\n")))
     (lambda whatever (primitive-_exit 1))))

#(define (bb-finish)
   (force-output bb-geometry)
   (format bb-end "drawn\n")
   (force-output bb-end)
   (primitive-_exit 0))

#(bb-serve)
