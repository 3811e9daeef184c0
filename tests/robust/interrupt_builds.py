"""Builds killed, crowded and fed with damage, counted.

    python tests/robust/interrupt_builds.py [--kills 50] [--pairs 20] [--damages 50] [--seed 1] [--inside]

After each blow the earlier PDF must be whole, the next build must end well, and its book must be the clean build's, to
the byte.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from small_book import Said, call_book, command, digest, environment, make_course, run_book


@dataclass
class Bench:
    """Two editions of the small course that differ in their title, and the clean book of each."""

    folder: Path
    call: Callable[[Path, Path, Path], Said] | None = None
    """Builds to the end; None does it in a process of its own, as a user would."""
    courses: list[Path] = field(default_factory=list)
    clean: list[Path] = field(default_factory=list)
    seconds: float = 0.0
    """Work of a clean build in a process of its own: time of the processor, so that a busy machine does not matter."""

    def __post_init__(self) -> None:
        (self.folder / "tmp").mkdir()
        for number, title in enumerate(("First printing", "Second printing")):
            self.courses.append(make_course(self.folder / f"course{number}", title))
            self.clean.append(self.folder / f"clean{number}.pdf")
            before = os.times()
            build = self.build if number else self.build_apart
            said = build(number, self.clean[number], self.folder / f"clean{number}")
            assert said.code == 0, said
            after = os.times()
            spent = after.children_user + after.children_system - before.children_user - before.children_system
            self.seconds = self.seconds or spent

    @property
    def environment(self) -> dict[str, str]:
        """Where every process of a build can be told by its work folder."""
        return environment(TMPDIR=str(self.folder / "tmp"))

    def build(self, number: int, out: Path, cache: Path) -> Said:
        """Build an edition to the end."""
        return self.call(self.courses[number], out, cache) if self.call else self.build_apart(number, out, cache)

    def build_apart(self, number: int, out: Path, cache: Path) -> Said:
        """Build an edition to the end in a process of its own."""
        return run_book(self.courses[number], out, cache, env=self.environment)

    def start(self, number: int, out: Path, cache: Path, **changes: str) -> subprocess.Popen[bytes]:
        """Begin to build an edition."""
        return subprocess.Popen(
            command(self.courses[number], out, cache),
            cwd=self.courses[number],
            env={**self.environment, **changes},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
        )

    def judge(self, number: int, out: Path) -> str:
        """`same` bytes as the clean book, or `wrong`."""
        return "same" if digest(out) == digest(self.clean[number]) else "wrong"

    def left_over(self) -> list[str]:
        """Processes that still work in this bench's folders."""
        return [
            name
            for name in os.listdir("/proc")
            if name.isdigit() and self._belongs(Path("/proc") / name) and int(name) != os.getpid()
        ]

    def spent(self) -> float:
        """Seconds of work of the processes that work here now, and of those they waited for."""
        ticks = 0
        for name in self.left_over():
            try:
                fields = (Path("/proc") / name / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            # utime, stime, cutime, cstime: fields 14 to 17, and the third is the first behind the name (proc(5)).
            ticks += sum(map(int, fields[11:15]))
        return ticks / os.sysconf("SC_CLK_TCK")

    def _belongs(self, process: Path) -> bool:
        try:
            state = (process / "stat").read_text().rpartition(")")[2].split()[0]
            words = os.readlink(process / "cwd"), (process / "environ").read_bytes().decode("latin-1")
        except OSError:
            return False
        return state != "Z" and any(str(self.folder) in word for word in words)


def kill_one(bench: Bench, chance: random.Random, cache: Path) -> str:
    """Kill a build at a random moment; how the next one ended, or what was wrong."""
    out = bench.folder / "killed.pdf"
    shutil.copyfile(bench.clean[0], out)
    if chance.random() < 0.6:
        shutil.rmtree(cache, ignore_errors=True)
    child = bench.start(1, out, cache)
    moment = chance.uniform(0.0, bench.seconds * 1.05)
    while child.poll() is None and bench.spent() < moment:
        time.sleep(0.05)
    child.send_signal(signal.SIGKILL)
    child.communicate()
    if bench.judge(0, out) != "same" and bench.judge(1, out) == "wrong":
        return "the earlier book was touched"
    if not wait_until_alone(bench):
        return f"processes were left over: {bench.left_over()}"
    said = bench.build(1, out, cache)
    return bench.judge(1, out) if said.code == 0 else f"the next build failed: {said.errors}"


def wait_until_alone(bench: Bench, seconds: float = 20.0) -> bool:
    """Whether everything a killed build had started ends soon."""
    end = time.monotonic() + seconds
    while bench.left_over() and time.monotonic() < end:
        time.sleep(0.1)
    return not bench.left_over()


def crowd_two(bench: Bench, chance: random.Random, cache: Path) -> str:
    """Two builds at once with one cache, half the time to one output; how they ended, or what was wrong."""
    shutil.rmtree(cache, ignore_errors=True)
    shared = chance.random() < 0.5
    outs = [bench.folder / ("crowd.pdf" if shared else f"crowd{number}.pdf") for number in (0, 1)]
    editions = (0, 1) if chance.random() < 0.5 else (0, 0)
    children = [bench.start(edition, out, cache) for edition, out in zip(editions, outs, strict=True)]
    errors = [child.communicate()[1] for child in children]
    if any(child.returncode for child in children):
        return f"a build failed: {errors}"
    judged = {bench.judge(edition, out) for edition, out in zip(editions, outs, strict=True)}
    if shared:
        # The last one to end wins; it is one of the two, and whole.
        judged = {min(bench.judge(edition, outs[0]) for edition in editions)}
    again = [bench.build(edition, out, cache).code for edition, out in zip(editions, outs, strict=True)]
    judged |= {bench.judge(editions[1], outs[1])}
    return "wrong" if any(again) or "wrong" in judged else "same"


def damage_cache(cache: Path, chance: random.Random) -> str:
    """Damage one to five files of a cache in one way; mostly without the finished book, which would do by itself."""
    if chance.random() < 0.7:
        shutil.rmtree(cache / "finished", ignore_errors=True)
    files = sorted(path for path in cache.rglob("*") if path.is_file())
    how = chance.choice(
        ["cut", "flip", "empty", "gone", "junk", "swap", "folder", "unreadable", "link", "long", "flat"]
    )
    for victim in chance.sample(files, min(len(files), chance.randint(1, 5))):
        if not victim.is_file():
            continue
        data = bytearray(victim.read_bytes())
        if how == "cut":
            victim.write_bytes(data[: chance.randrange(len(data) or 1)])
        elif how == "flip" and data:
            data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
            victim.write_bytes(data)
        elif how == "empty":
            victim.write_bytes(b"")
        elif how == "junk":
            victim.write_bytes(chance.randbytes(len(data)))
        elif how == "swap":
            other = chance.choice(files)
            shutil.copyfile(other, victim.with_suffix(".tmp")) if other.is_file() else None
            if victim.with_suffix(".tmp").exists():
                victim.with_suffix(".tmp").replace(victim)
        elif how == "unreadable":
            victim.chmod(0)
        elif how == "flat":
            shutil.rmtree(victim.parent)
            victim.parent.write_bytes(data)
        elif how == "long":
            victim.write_bytes(data * 3)
        else:
            victim.unlink()
            if how == "folder":
                victim.mkdir()
            elif how == "link":
                victim.symlink_to("/dev/zero" if chance.random() < 0.5 else chance.choice(files))
    return how


def damage_one(bench: Bench, chance: random.Random, cache: Path) -> str:
    """Damage the cache of a finished build; how the next build ended, or what was wrong."""
    if not cache.exists():
        shutil.copytree(bench.folder / "clean1", cache)
    out = bench.folder / "damaged.pdf"
    shutil.copyfile(bench.clean[0], out)
    how = damage_cache(cache, chance)
    said = bench.build(1, out, cache)
    judged = bench.judge(1, out) if said.code == 0 else f"failed: {said.errors}"
    if judged != "same":
        return f"{how}: {judged}"
    if chance.random() < 0.2:
        shutil.rmtree(cache)
    return judged


BLOWS = {"kills": kill_one, "pairs": crowd_two, "damages": damage_one}


def strike(bench: Bench, blow: str, count: int, seed: int) -> Iterator[str]:
    """What came of each of `count` blows."""
    chance = random.Random(f"{seed} {blow}")
    for _ in range(count):
        yield BLOWS[blow](bench, chance, bench.folder / f"cache-{blow}")


def main() -> int:
    """Run, tell, and end with 1 when anything went wrong."""
    parser = argparse.ArgumentParser()
    for name, number in (("kills", 50), ("pairs", 20), ("damages", 50), ("seed", 1)):
        parser.add_argument(f"--{name}", type=int, default=number)
    parser.add_argument("--inside", action="store_true", help="build in this process what is not killed: quicker")
    words = parser.parse_args()
    wrong = 0
    with tempfile.TemporaryDirectory(prefix="interrupt-") as folder:
        bench = Bench(Path(folder), call_book if words.inside else None)
        print(f"a clean build takes {bench.seconds:.1f} s of work")
        for blow in BLOWS:
            started = time.monotonic()
            ends = Counter(strike(bench, blow, getattr(words, blow), words.seed))
            wrong += sum(count for end, count in ends.items() if end != "same")
            print(f"{blow}: {dict(ends)} in {time.monotonic() - started:.0f} s", flush=True)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
