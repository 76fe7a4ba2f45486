"""After the draft comes the lesson: worksheet, practice steps, hard spots, warm-ups, duet."""

from __future__ import annotations

from reduce.teach.classroom import Company, class_booklet
from reduce.teach.lesson import Lesson
from reduce.teach.pack import booklet
from reduce.teach.words import languages, words

__all__ = ["Company", "Lesson", "booklet", "class_booklet", "languages", "words"]
