"""After the draft comes the lesson: worksheet, practice steps, hard spots, warm-ups, duet."""

from __future__ import annotations

from reduce.teach.lesson import Lesson
from reduce.teach.pack import booklet
from reduce.teach.words import languages, words

__all__ = ["Lesson", "booklet", "languages", "words"]
