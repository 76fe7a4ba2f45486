"""Who plays: the playing lines of the score, and what kind of desk each one sits at."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

from reduce.model.score import Part, Score
from reduce.model.texture import Stream

# Words of a part name (or an instrument key) that tell the desk, tried in this order (common trade names in four languages).
_DESKS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "percussion",
        (
            "timp",
            "tymp",
            "pauk",
            "kettle",
            "drum",
            "tambur",
            "cassa",
            "caisse",
            "triang",
            "cymb",
            "becken",
            "piatti",
            "glock",
            "xylo",
            "percus",
            "tam-tam",
            "gong",
        ),
    ),
    ("trombone", ("trombon", "posaun", "tbn")),
    ("bassoon", ("basso", "fagot", "bsn", "fag")),
    ("clarinet", ("clarin", "klarin", "chalum", "basset h", "basset-h", "cl ")),
    ("horn", ("french h", "french-h", "corno d", "corno 1", "corno 2", "corni", "cor d", "waldhorn")),
    ("oboe", ("obo", "hautb", "english h", "english-h", "englisch", "cor ang", "corno ing", "ob ")),
    ("horn", ("horn", "corno")),
    ("trumpet", ("trump", "tromp", "tromb", "clarino", "cornet", "kornett", "tpt")),
    ("flute", ("flut", "flaut", "flöt", "flote", "picc", "travers", "recorder", "fl ")),
    ("tuba", ("tuba", "ophicl", "serpent", "euphon")),
    ("keyboard", ("continuo", "harpsi", "cembal", "piano", "organ", "keyboard", "celest")),
    ("harp", ("harp", "harf", "arpa", "guitar", "lute", "mandol")),
    ("double-bass", ("contrab", "double b", "double-b", "kontrab", "violone", "c-bass", "cb ", "string bass")),
    ("cello", ("cell", "vc ", "vlc")),
    ("viola", ("viola", "bratsch", "vla", "altvio")),
    ("violin", ("viol", "vln", "geige", "fiddle")),
    ("voice", ("sopran", "alto", "tenor", "barit", "mezzo", "voice", "vocal", "choir", "chorus", "sing", "bass")),
)
_FAMILY_DESK = {
    "woodwind": "woodwind", "brass": "brass", "percussion": "percussion", "plucked": "harp",
    "keyboard": "keyboard", "voice": "voice", "strings": "strings",
}  # fmt: skip


def desk(part: Part) -> str:
    """The kind of player: 'violin', 'horn', ... from the instrument or the printed name, else from the family, else 'unknown'."""
    for words in (part.instrument, part.name, part.short):
        text = words.lower().replace("ſ", "s").strip() + " "
        if text != " ":
            for kind, marks in _DESKS:
                if any(mark in text for mark in marks):
                    if kind == "bassoon" and ("contrabass" in text or "double bass" in text) and "bassoon" not in text:
                        continue
                    if kind == "bassoon" and not any(m in text for m in ("basson", "bassoon", "fagot", "bsn", "fag")):
                        continue
                    return kind
    return _FAMILY_DESK.get(part.family, "unknown")


def desks_of(score: Score, streams: Sequence[Stream], stream_of: Mapping[str, int]) -> tuple[str, ...]:
    """The kind of player of each stream.

    A stream of no known kind that keeps to one pitch (three at most, the commonest three quarters of the time) is a drum
    written with a pitch, as old scores write the Turkish band; but not where nobody plays who is none.
    """
    pitches: dict[int, Counter[int]] = defaultdict(Counter)
    for note in score.notes:
        stream = stream_of.get(note.id)
        if stream is not None:
            pitches[stream][note.midi] += 1
    kinds = [desk(score.parts[line.part]) for line in streams]
    found = []
    for line, kind in zip(streams, kinds, strict=True):
        heard = pitches[line.id]
        if kind == "unknown" and len(heard) <= 3 and heard.total() >= 8 and 4 * max(heard.values()) >= 3 * heard.total():
            kind = "percussion"
        found.append(kind)
    return tuple(found if any(kind != "percussion" for kind in found) else kinds)


def streams(score: Score) -> tuple[tuple[Stream, ...], dict[str, int]]:
    """The playing lines: one for each voice of each staff of each part.

    Chords belong to one line.  A scrap of a voice (fewer than a tenth of the staff's notes, or fewer than eight) that
    sounds in bars where the staff's main voice rests is taken into the main voice: editors change voice numbers for the
    look of the page.  Cue and hidden notes belong to no line.

    Returns:
        The lines in score order, and the line of each struck or grace note by its id.
    """
    count: dict[tuple[int, int], Counter[str]] = defaultdict(Counter)
    bars_of: dict[tuple[int, int, str], set[int]] = defaultdict(set)
    for note in score.notes:
        if note.kind in ("struck", "grace"):
            count[note.part, note.staff][note.voice] += 1
            bars_of[note.part, note.staff, note.voice].add(note.bar)
    main: dict[tuple[int, int], str] = {}
    scraps: set[tuple[int, int, str]] = set()
    for place, voices in count.items():
        total = sum(voices.values())
        main[place] = min(voices, key=lambda v: (-voices[v], v))
        scraps.update((*place, v) for v, n in voices.items() if v != main[place] and (10 * n < total or n < 8))

    def owner(part: int, staff: int, voice: str, bar: int) -> tuple[int, int, str]:
        if (part, staff, voice) in scraps and bar not in bars_of[part, staff, main[part, staff]]:
            return part, staff, main[part, staff]
        return part, staff, voice

    seen: dict[tuple[int, int, str], list[str]] = defaultdict(list)
    for note in score.notes:
        if note.kind in ("struck", "grace"):
            seen[owner(note.part, note.staff, note.voice, note.bar)].append(note.id)
    names = {part.index: " ".join(part.name.split()) or part.short or f"part {part.index + 1}" for part in score.parts}
    per_part = Counter(part for part, _, _ in seen)
    rank: Counter[int] = Counter()
    lines: list[Stream] = []
    stream_of: dict[str, int] = {}
    for part, staff, voice in sorted(seen, key=lambda k: (k[0], k[1], _voice_order(k[2]))):
        rank[part] += 1
        name = names.get(part, "") if per_part[part] == 1 or rank[part] == 1 else f"{names.get(part, '')} (line {rank[part]})"
        stream_of.update(dict.fromkeys(seen[part, staff, voice], len(lines)))
        lines.append(Stream(id=len(lines), part=part, staff=staff, voice=voice, name=name))
    return tuple(lines), stream_of


def _voice_order(voice: str) -> tuple[int, str]:
    return (int(voice), "") if voice.isdecimal() and len(voice) < 9 else (99, voice)
