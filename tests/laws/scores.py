"""Small random orchestral scores, as records."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

from reduce.model.pitch import in_key
from reduce.model.score import Bar, Family, Key, Meter, Note, Part, Score, Tempo

RESOLUTION = 48
PLAYERS: tuple[tuple[str, str, Family, int, int], ...] = (
    ("Flute", "flute", "woodwind", 60, 93),
    ("Oboe", "oboe", "woodwind", 58, 86),
    ("Horn", "horn", "brass", 41, 72),
    ("Violin 1", "violin", "strings", 55, 93),
    ("Viola", "viola", "strings", 48, 79),
    ("Cello", "cello", "strings", 36, 67),
    ("Double Bass", "double-bass", "strings", 28, 55),
)
VALUES = tuple(Fraction(n, d) for n, d in ((1, 4), (1, 3), (1, 2), (3, 4), (1, 1), (3, 2), (2, 1), (3, 1)))


@st.composite
def scores(draw: st.DrawFn) -> Score:
    """Two to seven parts, one to six bars, one voice a part, notes and rests of any value that fits."""
    meter = draw(st.sampled_from((Meter((4,), 4), Meter((3,), 4), Meter((2,), 4), Meter((6,), 8), Meter((5,), 4))))
    fifths = draw(st.integers(-4, 4))
    full = meter.ticks(RESOLUTION)
    lengths = [full] * draw(st.integers(1, 6))
    pickup = draw(st.booleans()) and len(lengths) > 1
    if pickup:
        lengths[0] = RESOLUTION
    bars, start = [], 0
    for index, length in enumerate(lengths):
        number = str(index + (0 if pickup else 1))
        upbeat = pickup and index == 0
        bars.append(Bar(index=index, number=number, start=start, length=length, meter=meter, key=Key(fifths), pickup=upbeat))
        start += length
    chosen = draw(st.lists(st.sampled_from(range(len(PLAYERS))), min_size=2, max_size=len(PLAYERS), unique=True).map(sorted))
    parts, notes = [], []
    for place, player in enumerate(chosen):
        name, instrument, family, low, high = PLAYERS[player]
        parts.append(Part(index=place, id=f"P{place + 1}", name=name, short=name[:3], instrument=instrument, family=family))
        for bar in bars:
            at = bar.start
            while at < bar.end:
                fitting = [int(v * RESOLUTION) for v in VALUES if at + int(v * RESOLUTION) <= bar.end] or [bar.end - at]
                length = draw(st.sampled_from(fitting))
                if draw(st.integers(0, 4)):
                    midi = draw(st.integers(low, high))
                    notes.append(
                        Note(
                            id=f"s{len(notes)}", part=place, staff=1, voice="1", bar=bar.index, onset=at, duration=length,
                            pitch=in_key(midi, fifths), midi=midi, written=(length,),
                        )
                    )  # fmt: skip
                at += length
    notes.sort(key=lambda n: (n.onset, n.part, n.staff, -n.midi))
    quarters = draw(st.sampled_from((None, 60.0, 120.0, 180.0)))
    tempos = (Tempo(onset=0, quarters=quarters),) if quarters else ()
    return Score(resolution=RESOLUTION, title="Law", parts=tuple(parts), bars=tuple(bars), notes=tuple(notes), tempos=tempos)
