"""The instruments of our orchestra: how their parts are written and how far they reach."""

from __future__ import annotations

from dataclasses import dataclass

from lines import Pitch


@dataclass(frozen=True, slots=True, kw_only=True)
class Player:
    """One part of the score.

    ``steps`` and ``semitones`` lead from the written to the sounding note, octaves included; ``lowest`` and ``highest`` are
    sounding MIDI numbers, within what a town orchestra plays well.  ``signature`` is False where a part is written without one
    by old custom (horns, trumpets, timpani).
    """

    name: str
    short: str
    family: str
    sound: str  # MusicXML standard sound
    program: int  # General MIDI program, or the key of unpitched percussion; counted from 1
    lowest: int
    highest: int
    clefs: tuple[str, ...] = ("G2",)
    steps: int = 0
    semitones: int = 0
    signature: bool = True

    @property
    def pitched(self) -> bool:
        return self.clefs != ("percussion",)

    @property
    def fifths(self) -> int:
        """Sharps to add to the sounding key signature for the written one."""
        return 12 * self.steps - 7 * self.semitones

    def written(self, sounding: Pitch) -> Pitch:
        """The note on the page."""
        return sounding.moved(-self.steps, -self.semitones)


# fmt: off
PLAYERS = {
    "piccolo": Player(
        name="Piccolo", short="Picc.", family="woodwind", sound="wind.flutes.flute.piccolo", program=73,
        lowest=74, highest=105, steps=7, semitones=12,
    ),
    "flute": Player(name="Flute", short="Fl.", family="woodwind", sound="wind.flutes.flute", program=74, lowest=60, highest=94),
    "flutes": Player(name="Flutes 1.2", short="Fl.", family="woodwind", sound="wind.flutes.flute", program=74, lowest=60, highest=94),
    "oboes": Player(name="Oboes 1.2", short="Ob.", family="woodwind", sound="wind.reed.oboe", program=69, lowest=58, highest=86),
    "clarinet-b-flat": Player(
        name="Clarinet in B♭", short="Cl.", family="woodwind", sound="wind.reed.clarinet.bflat", program=72,
        lowest=50, highest=86, steps=-1, semitones=-2,
    ),
    "clarinets-a": Player(
        name="Clarinets 1.2 in A", short="Cl.", family="woodwind", sound="wind.reed.clarinet.a", program=72,
        lowest=49, highest=85, steps=-2, semitones=-3,
    ),
    "bassoons": Player(
        name="Bassoons 1.2", short="Bn.", family="woodwind", sound="wind.reed.bassoon", program=71, lowest=34, highest=69, clefs=("F4",),
    ),
    "horn-f": Player(
        name="Horn in F", short="Hn.", family="brass", sound="brass.french-horn", program=61,
        lowest=45, highest=76, steps=-4, semitones=-7,
    ),
    "horns-d": Player(
        name="Horns 1.2 in D", short="Hn. 1.2", family="brass", sound="brass.french-horn", program=61,
        lowest=45, highest=76, steps=-6, semitones=-10, signature=False,
    ),
    "horns-f": Player(
        name="Horns 3.4 in F", short="Hn. 3.4", family="brass", sound="brass.french-horn", program=61,
        lowest=41, highest=74, steps=-4, semitones=-7, signature=False,
    ),
    "trumpets-d": Player(
        name="Trumpets 1.2 in D", short="Tpt.", family="brass", sound="brass.trumpet", program=57,
        lowest=54, highest=83, steps=1, semitones=2, signature=False,
    ),
    "timpani": Player(
        name="Timpani", short="Timp.", family="percussion", sound="drum.timpani", program=48,
        lowest=41, highest=57, clefs=("F4",), signature=False,
    ),
    "triangle": Player(
        name="Triangle", short="Trgl.", family="percussion", sound="metal.triangle", program=82, lowest=0, highest=0, clefs=("percussion",),
        signature=False,
    ),
    "harp": Player(
        name="Harp", short="Hp.", family="plucked", sound="pluck.harp", program=47, lowest=23, highest=103, clefs=("G2", "F4"),
    ),
    "violin": Player(name="Violin", short="Vn.", family="strings", sound="strings.violin", program=41, lowest=55, highest=93),
    "violin-1": Player(name="Violin 1", short="Vn. 1", family="strings", sound="strings.violin", program=41, lowest=55, highest=93),
    "violin-2": Player(name="Violin 2", short="Vn. 2", family="strings", sound="strings.violin", program=41, lowest=55, highest=90),
    "viola": Player(name="Viola", short="Va.", family="strings", sound="strings.viola", program=42, lowest=48, highest=79, clefs=("C3",)),
    "cello": Player(name="Cello", short="Vc.", family="strings", sound="strings.cello", program=43, lowest=36, highest=72, clefs=("F4",)),
    "double-bass": Player(
        name="Double Bass", short="D.B.", family="strings", sound="strings.contrabass", program=44,
        lowest=28, highest=55, clefs=("F4",), steps=-7, semitones=-12,
    ),
}
# fmt: on
