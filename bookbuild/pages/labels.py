"""The words the page itself prints, in English; a book's `words` replace them one by one."""

from __future__ import annotations

from collections.abc import Mapping

LABELS: dict[str, str] = {
    "week": "Week",
    "page": "Page",
    "contents": "Contents",
    "level": "Level",
    "new": "New this week",
    "listen": "Listen for",
    "caution": "Take care",
    "plan": "Practice log",
    "day": "Day",
    "minutes": "min",
    "tempo": "Tempo ladder",
    "name": "Name",
    "date": "Date",
    "notes": "Notes",
    "more": "More for this week",
    "difficulty": "Difficulty",
    "skill_new": "new",
    "skill_practised": "practised",
    "cover": "Cover",
    "imprint": "About this book",
    "isbn": "ISBN",
    "music_of": "Music of exercise",
    "here": "here",
}
"""Label key -> English text."""


def choose_labels(words: Mapping[str, str]) -> dict[str, str]:
    """All of `LABELS`, with the book's own words where it has them."""
    return {key: words.get(key, text) for key, text in LABELS.items()}
