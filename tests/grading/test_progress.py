"""A course that asks too early, rises too far or brings too much is told so, with place and remedy."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise

import pytest
from small_course import make_exercise, make_lessons, renumber, stages_of

from bookbuild.arrange.course import arrange_course
from bookbuild.diagnostics import Severity
from bookbuild.grading.course import grade_course
from bookbuild.grading.difficulty import Difficulty
from bookbuild.grading.learning import Stage, Step, follow_stage
from bookbuild.grading.order import measure_agreement, suggest_order
from bookbuild.grading.progress import check_progress
from bookbuild.grading.weights import MEASURES, SETTINGS, check_weights, choose_weights
from bookbuild.theory.chords import Chord

G = Chord.parse("G")


@pytest.fixture
def make(course, setting):
    return lambda number, *words, **options: make_exercise(course, setting, number, *words, **options)


def check(weeks, setting, **weights):
    return check_progress(stages_of(make_lessons(weeks), setting), choose_weights(weights))


def test_a_groove_is_met_alone_before_the_hands_go_together(make, setting):
    alone = make("1.1", "left-hand", "lamplighters-round", "promenade")
    together = make("1.2", "together", "lamplighters-round", "promenade")
    assert check([[alone, together]], setting) == []
    found = check([[together, alone]], setting)
    messages = [finding.message for finding in found]
    assert "exercise 1.2 needs the groove 'promenade', which no exercise before it teaches" in messages
    assert "exercise 1.2 teaches 'Hands together' before 'Bass and chord', which it builds on" not in messages
    assert all(finding.severity is Severity.WARNING for finding in found)
    assert {(finding.file, finding.line, finding.column) for finding in found} == {("weeks/x.yaml", 20, 5)}
    assert all("'left-hand-one-chord'" in finding.hint for finding in found if "groove" in finding.message)


def test_fill_waits_for_shapes(make, setting):
    melody = make("1.1", "melody", "lamplighters-round")
    fill = make("1.2", "fill", "lamplighters-round", "promenade")
    shapes = make("2.1", "shapes", "lamplighters-round")
    found = check([[melody, fill], [shapes]], setting)
    assert [finding.message for finding in found] == [
        "exercise 1.2 teaches 'Fill' before 'Shapes', which it builds on"]
    assert "move this week behind week 2, 'Week 2'" in found[0].hint
    assert check([[melody], [shapes], [fill]], setting) == []


def test_an_arrangement_waits_for_its_tune(make, setting):
    first = [make("1.1", "left-hand", "wide-water", "waltz"), make("1.2", "shapes", "tide-mill")]
    late = [make("2.1", "melody", "tide-mill")]
    found = check([first, late], setting, **{"largest-step": 10.0})
    assert [f.message for f in found if "tune" in f.message] == [
        "exercise 1.2 needs the tune 'tide-mill', which no exercise before it teaches"]


def test_what_no_week_teaches_is_one_note(make, setting):
    found = check([[make("1.1", "together", "lamplighters-round", "promenade")]], setting)
    assert [finding.severity for finding in found] == [Severity.NOTE]
    assert found[0].message.startswith("no exercise of this course teaches: 'Bass and chord'")
    assert "the groove 'promenade'" in found[0].message


def test_a_jump_names_levels_reasons_and_the_way_out(make, setting):
    easy = [make("1.1", "left-hand-one-chord", "", "promenade", chord=G), make("1.2", "melody", "red-dust-road")]
    hard = [make("2.1", "left-hand", "red-dust-road", "baiao"), make("2.2", "shapes", "red-dust-road"),
            make("2.3", "fill", "red-dust-road", "baiao"), make("2.4", "arrangement", "red-dust-road", "baiao")]
    before, after = (max(s.difficulty.level for s in stage.steps)
                     for stage in stages_of(make_lessons([easy, hard]), setting))
    rise = after - before
    assert rise > 2
    found = [f for f in check([easy, hard], setting) if "levels above" in f.message]
    assert len(found) == 1
    message = f"exercise 2.4 is of level {after}, {rise} levels above everything before its week (each hand strikes"
    assert found[0].message.startswith(message)
    assert f"'largest-step: {rise}'" in found[0].hint
    assert found[0].line == 40
    assert not [f for f in check([easy, hard], setting, **{"largest-step": rise}) if "levels above" in f.message]


def test_too_much_that_is_new(make, setting):
    weeks = [[make("1.1", "left-hand-one-chord", "", "promenade", chord=G)], [
        make("2.1", "melody", "felt-boots"), make("2.2", "left-hand", "felt-boots", "schottische"),
        make("2.3", "together", "felt-boots", "schottische"), make("2.4", "shapes", "felt-boots")]]
    found = [f for f in check(weeks, setting, **{"largest-step": 10.0}) if "new skills" in f.message]
    assert len(found) == 1
    assert "'Triplets'" in found[0].message
    assert "'most-new: 9'" in found[0].hint
    assert not [f for f in check(weeks, setting, **{"most-new": 9.0}) if "new skills" in f.message]


def test_weights_that_mean_nothing_are_named():
    assert list(check_weights({"speed": 3.0, "largest-step": 1.0})) == []
    found = list(check_weights({"sped": 3.0}))
    assert [(f.severity, f.file) for f in found] == [(Severity.WARNING, "course.yaml")]
    assert "'sped'" in found[0].message
    assert "'speed'" in found[0].hint
    assert set(choose_weights({})) == {*MEASURES, *SETTINGS}


def test_the_demo_course_passes_its_own_check(graded, lessons):
    grades, findings = graded
    assert findings == []
    assert len(grades) == len(lessons)


@pytest.mark.parametrize("name", ["small-hands", "studio"])
def test_other_editions_pass_too(course, name):
    """Other instruments, grips and swapped tunes."""
    edition = course.editions[name]
    lessons, findings = arrange_course(course, edition)
    assert not [finding for finding in findings if finding.severity is Severity.ERROR]
    assert grade_course(course, edition, lessons)[1] == []


def test_levels_of_the_demo_course(grades, lessons):
    assert grades[0].level_of("1.1") == 1
    assert grades[0].level <= 2
    assert 8 <= grades[-1].level_of(lessons[-1].exercises[-1].number) <= 10
    levels = [grade.level for grade in grades]
    # Most weeks are at least as hard as the one before; none falls more than a level behind.
    assert sum(later >= before for before, later in pairwise(levels)) >= len(levels) - 3
    assert all(later >= before - 1 for before, later in pairwise(levels))
    assert len({step.difficulty.level for grade in grades for step in grade.exercises.values()}) >= 8
    assert [grade.new_skills for grade in grades].count(()) <= 1
    assert len({skill for grade in grades for skill in grade.new_skills}) <= 24


@pytest.fixture(scope="module")
def stages(lessons, setting):
    return stages_of(lessons, setting)


def test_a_shuffled_course_is_caught(stages):
    chosen = choose_weights({})
    for seed in range(40):
        order = list(range(len(stages)))
        random.Random(seed).shuffle(order)
        found = check_progress(renumber([stages[index] for index in order]), chosen)
        assert [finding for finding in found if finding.severity is Severity.WARNING], order


def test_each_warning_of_a_shuffled_course_has_place_and_remedy(stages):
    found = check_progress(renumber(stages[::-1]), choose_weights({}))
    assert len(found) > 12
    assert all(f.file.startswith("weeks/") and f.line and f.column and f.hint for f in found)
    first = {f.file for f in found if "which no exercise before it teaches" in f.message}
    assert len(first) >= 6


def test_the_suggested_order_restores_a_shuffled_course(stages):
    for seed in range(10):
        order = list(range(len(stages)))
        random.Random(seed).shuffle(order)
        restored = [order[place] for place in suggest_order([stages[index] for index in order])]
        # Measured: Kendall's tau 1.00 to the order of the teacher; some weeks are nearly equally hard.
        assert measure_agreement(restored) >= 0.85
        taught: frozenset[str] = frozenset()
        for index in restored:
            gaps, taught = follow_stage(stages[index], taught)
            assert gaps == []


def test_kendall_by_hand():
    # One pair of six exchanged: (5 - 1) / 6.
    assert measure_agreement([0, 1, 2, 3]) == 1
    assert measure_agreement([3, 2, 1, 0]) == -1
    assert measure_agreement([0, 2, 1, 3]) == pytest.approx(4 / 6)
    assert measure_agreement([0]) == measure_agreement([]) == 1


def test_weeks_without_exercises_are_graded(course, edition, lessons):
    grades, findings = grade_course(course, edition, [replace(lessons[0], exercises=())])
    assert (grades[0].level, grades[0].difficulty, grades[0].skills, findings) == (1, 0.0, (), [])
    assert grade_course(course, edition, []) == ((), [])


def test_many_new_skills_put_a_week_behind_a_harder_one(make, setting):
    """Three skills weigh as much as most of a level, so a week of 12 points that brings none comes first."""
    easy, harder = (make(number, "melody", "salt-and-lime") for number in ("1.1", "2.1"))
    stages = [
        Stage(lesson, (Step(exercise, Difficulty({}, {"speed": points}), frozenset(skills)),))
        for lesson, exercise, points, skills in zip(
            make_lessons([[easy], [harder]]), (easy, harder), (10.0, 12.0), (("dotted", "upbeat", "triplets"), ()),
            strict=True)
    ]
    assert suggest_order(stages) == (1, 0)
    assert suggest_order([replace(stages[0], steps=(replace(stages[0].steps[0], needs=frozenset()),)), stages[1]]) == (
        0, 1)
