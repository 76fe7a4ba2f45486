"""Who plays a line, in the words above it: 'Ob. 1, Vl. 1 8va'."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence

from reduce.model.score import Part, Score
from reduce.model.texture import Lead, Texture

MOST_NAMES = 5  # instruments told one by one above a staff
FAMILIES = {"woodwind": "Ww.", "brass": "Br.", "strings": "Str.", "voice": "Voices"}
OCTAVES = {12: "8va", 24: "15ma", -12: "8vb", -24: "15mb"}
_NUMBERED = re.compile(r"^(.*?) *(\d+|I{1,3}|IV)$")


def short_name(part: Part) -> str:
    """The name of a part as it fits above a staff."""
    return re.sub(r"\s*[\[(].*", "", part.short or part.name).strip() or f"Part {part.index + 1}"


def joined(names: Iterable[str]) -> str:
    """Names in one line, players of one instrument together: 'Fl. 1/2, Ob. 1'."""
    groups: dict[str, list[str]] = {}
    for name in dict.fromkeys(names):
        found = _NUMBERED.match(name)
        groups.setdefault(found[1] if found else name, []).append(found[2] if found else "")
    return ", ".join(f"{base} {'/'.join(number for number in numbers if number)}".strip() for base, numbers in groups.items())


def _base(name: str) -> str:
    found = _NUMBERED.match(name)
    return found[1] if found else name


class Namer:
    """Names the streams of a score and how far they sound from a line that they double."""

    def __init__(self, score: Score, texture: Texture) -> None:
        self.texture = texture
        self.names = {stream.id: short_name(score.parts[stream.part]) for stream in texture.streams}
        self.family = {stream.id: FAMILIES.get(score.parts[stream.part].family, "") for stream in texture.streams}
        self.order = {stream.id: (stream.part, stream.id) for stream in texture.streams}
        self.keys: dict[int, dict[int, int]] = {}
        for note in score.notes:
            stream_id = texture.stream_of.get(note.id)
            if stream_id is not None:
                self.keys.setdefault(stream_id, {}).setdefault(note.onset, note.midi)
        self.by_id = score.note_by_id

    def lead(self, lead: Lead, also: Sequence[int] = ()) -> str:
        """The players of a line, doublings with their octave; ``also``: streams that run along in thirds or sixths."""
        plain = [lead.stream]
        octaves: dict[str, list[int]] = {}
        for stream in sorted(lead.doubled_by, key=lambda stream: self.order.get(stream, (0, 0))):
            away = self._interval(lead, stream)
            if away in OCTAVES:
                octaves.setdefault(OCTAVES[away], []).append(stream)
            else:
                plain.append(stream)
        text = self.players(plain)
        for sign, streams in sorted(octaves.items()):
            others = [stream for stream in streams if self.names.get(stream) not in {self.names.get(p) for p in plain}]
            if others:
                text += f", {self.players(others)} {sign}"
        if also:
            text += f"; {self.players(also)} below" if self._below(lead, also) else f"; {self.players(also)} with it"
        return text

    def players(self, streams: Iterable[int]) -> str:
        """The names of streams, in the order given; of many, three and more instruments of a family become the family."""
        known = [stream for stream in streams if stream in self.names]
        names = joined(self.names[stream] for stream in known)
        if names.count(",") < MOST_NAMES:
            return names
        kinds = Counter(family for family, _ in {(self.family[stream], _base(self.names[stream])) for stream in known})
        return joined(
            self.family[stream] if self.family[stream] and kinds[self.family[stream]] >= 3 else self.names[stream] for stream in known
        )

    def _interval(self, lead: Lead, stream: int) -> int:
        keys = self.keys.get(stream, {})
        away = Counter(
            keys[note.onset] - note.midi for note in (self.by_id[name] for name in lead.notes if name in self.by_id) if note.onset in keys
        )
        return away.most_common(1)[0][0] if away else 0

    def _below(self, lead: Lead, streams: Sequence[int]) -> bool:
        return all(self._interval(lead, stream) < 0 for stream in streams)
