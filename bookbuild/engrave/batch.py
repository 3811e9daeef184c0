"""Many exercises through the engraver: cached ones reused, the rest in batches spread over an executor."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, Future, as_completed
from contextlib import ExitStack, contextmanager
from dataclasses import asdict, replace
from functools import cache
from importlib import metadata
from pathlib import Path

from bookbuild.arrange.model import Arrangement
from bookbuild.engrave.cache import Cache
from bookbuild.engrave.drawn import DrawnExercise
from bookbuild.engrave.engine import Engraver, EngraverFailure
from bookbuild.engrave.plan_batches import halve, is_full
from bookbuild.engrave.press import Press, open_press
from bookbuild.engrave.run_batch import BatchResult, Sheets, Task, blame, fill_order, read_result, write_order
from bookbuild.engrave.style import Style
from bookbuild.engrave.text import known_characters, spell

_PROGRAM = Path(__file__).parent.parent
_ROOMS = ("engrave", "theory")
"""What turns an arrangement into engraver text: this room, and `theory`, which says how lengths are written."""
_LIBRARIES = ("abjad", "pikepdf")
"""What writes the engraver's trees, and what makes its pages slim."""


@cache
def _code_digest() -> str:
    """Hash of the program's own source that draws: a change of it makes old drawings stale."""
    digest = hashlib.sha256()
    for path in sorted(path for room in _ROOMS for path in (_PROGRAM / room).glob("*.[pi][yl]*")):
        digest.update(path.read_bytes())
    return digest.hexdigest()


@cache
def library_versions(*names: str) -> str:
    """Installed versions of libraries: another one may make something else of the same."""
    return " ".join(f"{name} {metadata.version(name)}" for name in names)


@cache
def fonts_digest(fonts: Path) -> str:
    """Hash of the font files the engraver may use."""
    digest = hashlib.sha256()
    for path in sorted(fonts.glob("*.ttf")):
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


def cache_key(arrangement: Arrangement, style: Style, engraver: Engraver, fonts: Path) -> str:
    """Name of a drawing by all that shapes it: music, style, engraver, fonts, our own code and its libraries."""
    parts = (repr(arrangement), repr(style), engraver.identity, fonts_digest(fonts), _code_digest(),
             library_versions(*_LIBRARIES))
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


def spell_words(style: Style, fonts: Path) -> Style:
    """The style with its words and letters in characters the fonts have. Raises MachineError."""
    known = known_characters(fonts)
    words = {name: spell(text, known) for name, text in asdict(style.words).items()}
    # In the names of tones, sharps and flats are drawn from the music font.
    words["tones"] = spell(style.words.tones, known | {"♯", "♭"})
    return replace(style, words=replace(style.words, **words), letters=spell(style.letters, known))


def spell_counts(task: Task, fonts: Path) -> Task:
    """The task with the teacher's own syllables in characters the fonts have. Raises MachineError."""
    known = known_characters(fonts)
    counts = tuple(replace(count, text=spell(count.text, known)) for count in task.arrangement.counts)
    return replace(task, arrangement=replace(task.arrangement, counts=counts))


def weigh(task: Task) -> int:
    """About how long an exercise takes, in events."""
    return sum(len(voice.events) for voice in task.arrangement.voices) + 40


class Drawing:
    """Exercises of one style on their way through the engraver, while others may still be arranged.

    `style` is `spelled` in characters the fonts have; `press` opens what they are engraved by, when it is first needed.
    """

    def __init__(self, style: Style, spelled: Style, engraver: Engraver, fonts: Path, store: Cache,
                 press: Callable[[], Press]) -> None:
        self.style = style
        self._given = spelled, engraver, fonts
        self._store, self._press = store, press
        self._known: dict[str, tuple[Task, Task, str]] = {}
        self._tasks: dict[str, Task] = {}
        self._drawn: dict[str, DrawnExercise] = {}
        self._filling: list[str] = []
        self._filled = 0
        self._handed: dict[Future[Sheets], list[str]] = {}

    def add(self, tasks: Iterable[Task]) -> None:
        """Take tasks on; a full batch of what was not drawn before is begun at once. Raises MachineError."""
        for task in tasks:
            spelled, key = self._spell(task)
            if key in self._tasks:
                continue
            self._tasks[key] = spelled
            entry = self._store.load(key)
            if entry is not None:
                self._drawn[key] = entry
                continue
            # What engraves is made ready beside the arranging of what comes next.
            self._press()
            self._filling.append(key)
            if is_full(self._weigh_filling(), self._filled):
                self._hand_out(self._filling)
                self._filling, self._filled = [], self._filled + 1

    def begin(self, tasks: Iterable[Task]) -> None:
        """Take tasks on, and begin everything there is to draw. Raises MachineError."""
        self.add(tasks)
        for run in halve(self._weigh_filling()):
            self._hand_out(self._filling[run.start : run.stop])
        self._filling = []

    def finish(self, tasks: Sequence[Task], progress: Callable[[int, int], None] = lambda done, total: None,
               ) -> tuple[list[DrawnExercise], int]:
        """Draw what is not drawn: exercises in the order of `tasks`, and how many of them were reused.

        `progress(done, total)` counts exercises. Raises MachineError.
        """
        self.begin(tasks)
        keys = [self._spell(task)[1] for task in tasks]
        missing = self._begun()
        reused = sum(key not in missing for key in keys)
        progress(reused, len(keys))
        for future in as_completed(list(self._handed)):
            batch = self._handed.pop(future)
            self._drawn.update(self._keep(batch, self._explain(future, batch)))
            missing.difference_update(batch)
            progress(sum(key not in missing for key in keys), len(keys))
        if reused < len(keys):
            self._store.trim({entry.batch for entry in self._drawn.values()})
        return [self._drawn[key] for key in keys], reused

    def give_up(self) -> None:
        """Begin nothing more."""
        for future in self._handed:
            future.cancel()

    def _begun(self) -> set[str]:
        """What is on its way."""
        return {key for batch in self._handed.values() for key in batch}

    def _spell(self, task: Task) -> tuple[Task, str]:
        """The task as it is drawn, and its key."""
        known = self._known.get(task.name)
        if known is None or known[0] != task:
            style, engraver, fonts = self._given
            spelled = spell_counts(task, fonts)
            known = self._known[task.name] = (task, spelled, cache_key(spelled.arrangement, style, engraver, fonts))
        return known[1:]

    def _weigh_filling(self) -> list[int]:
        return [weigh(self._tasks[key]) for key in self._filling]

    def _hand_out(self, batch: list[str]) -> None:
        press, order = self._press(), write_order(self._part(batch), self._given[0])
        self._handed[press.executor.submit(fill_order, order, *self._given, press.standby, press.runs)] = batch

    def _part(self, batch: Sequence[str]) -> tuple[Task, ...]:
        return tuple(self._tasks[key] for key in batch)

    def _keep(self, batch: list[str], result: BatchResult) -> dict[str, DrawnExercise]:
        """Put a drawn batch into the cache; its exercises by key."""
        name = self._store.store_batch(result.pdf)
        drawn = {key: DrawnExercise(name, systems) for key, systems in zip(batch, result.systems, strict=True)}
        for key, exercise in drawn.items():
            self._store.store(key, exercise)
        return drawn

    def _explain(self, future: Future[Sheets], batch: Sequence[str]) -> BatchResult:
        """What was drawn, a failure told as what is at fault."""
        part = self._part(batch)
        try:
            return read_result(future.result(), part, self._given[0])
        except EngraverFailure as failure:
            raise blame(part, *self._given, failure) from failure


@contextmanager
def start_drawing(style: Style, engraver: Engraver, fonts: Path, store: Cache, *, executor: Executor | None = None,
                  workers: int = 2) -> Iterator[Drawing]:
    """A drawing in one style; without an `executor` by so many `workers` at once. Raises MachineError."""
    spelled = spell_words(style, fonts)
    with ExitStack() as stack:

        @cache
        def press() -> Press:
            return Press(executor) if executor else stack.enter_context(open_press(engraver, spelled, fonts, workers))

        drawing = Drawing(style, spelled, engraver, fonts, store, press)
        stack.callback(drawing.give_up)
        yield drawing
