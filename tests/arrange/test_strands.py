"""Bass and chords of the left hand in one voice."""

from __future__ import annotations

from reduce.arrange.fold import Inner
from reduce.arrange.ground import slower_repeats
from reduce.arrange.line import Tone
from reduce.arrange.strands import one_voice
from reduce.model.pitch import spelled


def low(onset: int, end: int, octave: int = 3) -> Tone:
    """A C; 48 ticks to the quarter."""
    pitch = spelled("C", 0, octave)
    return Tone(onset, end, pitch.midi, pitch, (f"n{onset}",))


def test_no_chord_beside_a_bass_note() -> None:
    """A chord a triplet sixteenth's remainder away from a bass note (2 of 48 ticks) would leave a note that nobody can read: it goes."""
    chords = [Inner("left", onset, onset + 8, (52, 55)) for onset in (0, 32, 40, 48)]
    bass, inner = one_voice([low(0, 8), low(42, 48)], chords, 48, 0, 6)
    assert [0, 32, 48] == [chord.onset for chord in inner]
    assert [(0, 8), (42, 48)] == [(tone.onset, tone.end) for tone in bass]


def test_an_upbeat_run_on_one_note_becomes_one_note() -> None:
    """Notes shorter than the level reads are left out, and their own letter goes on sounding in the note before."""
    run = [low(0, 4), *(low(onset, onset + 4, 4) for onset in range(4, 24, 4)), low(24, 48, 4)]
    slow = slower_repeats(run, 0.01, 0.01, lambda _: 48.0, lambda tick: 2 if tick % 24 == 0 else 0, 6)
    assert [(0, 24, 48), (24, 48, 60)] == [(tone.onset, tone.end, tone.midi) for tone in slow]


def test_what_the_tune_strikes_again_the_bass_strikes_again() -> None:
    """A quick repetition is thinned, but not where the tune repeats its note at the same moment."""
    row = [low(0, 24), low(24, 48), low(48, 72)]
    slow = slower_repeats(row, 0.01, 9.0, lambda _: 48.0, lambda _: 0, 0)
    assert [(0, 72)] == [(tone.onset, tone.end) for tone in slow]
    with_tune = slower_repeats(row, 0.01, 9.0, lambda _: 48.0, lambda _: 0, 0, {(48, 0), (24, 7)})
    assert [(0, 48), (48, 72)] == [(tone.onset, tone.end) for tone in with_tune]


def test_a_call_on_one_note_keeps_its_rhythm_and_a_row_keeps_its_beats() -> None:
    """Fewer strokes than a repetition has are played as they stand; of a row that sets in off the beat the strokes on the beat stay."""
    weights = {24: 1, 48: 2, 72: 1, 96: 4}
    call = [low(onset, onset + 24) for onset in (24, 48, 72)]
    row = [*call, low(96, 120)]
    ways = (0.01, 0.6, lambda _: 48.0, lambda tick: weights.get(tick, 0), 0)
    assert call == list(slower_repeats(call, *ways, strokes=4))
    assert [(48, 96), (96, 120)] == [(tone.onset, tone.end) for tone in slower_repeats(row, *ways, strokes=4)]


def test_a_chord_that_hardly_outlasts_the_next_bass_note_ends_with_it() -> None:
    """No second voice of hooks and rests: chord, then bass; one that lasts longer is held over it."""
    chords = [Inner("left", 12, 24, (52, 55)), Inner("left", 24, 96, (52, 55))]
    bass, inner = one_voice([low(0, 12), low(18, 24), low(60, 84)], chords, 48, 6)
    assert [(0, 12), (18, 24), (60, 84)] == [(tone.onset, tone.end) for tone in bass]
    assert [(12, 18), (24, 96)] == [(chord.onset, chord.end) for chord in inner]
