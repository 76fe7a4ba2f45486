"""Written notes as MusicXML elements."""

from __future__ import annotations

from reduce.model.draft import DraftNote
from reduce.notate.marks import ARTICULATIONS, ORNAMENTS, OnNotes, SlurNumbers, attribute, text_xml
from reduce.notate.written import Voice, Written


class NoteWriter:
    """Writes the notes of one part; keeps track of ids and slur numbers.

    ``unit``: ticks per division.  ``staves``: more than one, so that each note names its staff.
    """

    def __init__(self, unit: int, staves: int, on_notes: OnNotes) -> None:
        self.unit = unit
        self.staves = staves
        self.on = on_notes
        self.slurs = SlurNumbers()
        self.pieces: dict[str, int] = {}

    def sign(self, sign: Written, voice: Voice, out: list[str]) -> None:
        """Append one written sign: its graces, then its notes or rest."""
        if sign.graces:
            self._graces(sign, voice, out)
        if not sign.notes:
            self._rest(sign, voice, out)
            return
        duration = f"<duration>{sign.ticks // self.unit}</duration>"
        tail = f"<type>{sign.type}</type>" + "<dot/>" * sign.dots
        modification = ""
        if sign.ratio:
            actual, normal, unit = sign.ratio
            modification = (
                f"<time-modification><actual-notes>{actual}</actual-notes><normal-notes>{normal}</normal-notes>"
                f"<normal-type>{unit}</normal-type></time-modification>"
            )
        stem = f"<stem>{sign.stem}</stem>" if sign.stem else ""
        start, end = sign.start, sign.start + sign.ticks
        common = self._common(sign, start, end)
        voice_xml = f"<voice>{voice.number}</voice>"
        chord = ""
        for note in sign.notes:
            pitch = note.pitch
            alter = f"<alter>{pitch.alter}</alter>" if pitch.alter else ""
            tie = tied = ""
            if note.onset < start:
                tie, tied = '<tie type="stop"/>', '<tied type="stop"/>'
            if note.end > end:
                tie += '<tie type="start"/>'
                tied += '<tied type="start"/>'
            accidental = ""
            if note.id in sign.accidentals:
                name, courtesy = sign.accidentals[note.id]
                accidental = f"<accidental{' cautionary=' + chr(34) + 'yes' + chr(34) if courtesy else ''}>{name}</accidental>"
            staff = f"<staff>{note.staff or voice.staff}</staff>" if self.staves > 1 else ""
            beams = ""
            if not chord and sign.beams:
                beams = "".join(f'<beam number="{k}">{state}</beam>' for k, state in enumerate(sign.beams, 1))
            notations = tied + self._own(note, start, end) + (common if not chord else "")
            if note.arpeggio and note.onset == start:
                notations += "<arpeggiate/>"
            if notations:
                notations = f"<notations>{notations}</notations>"
            out.append(
                f"<note id={self._id(note)}>{chord}<pitch><step>{pitch.step}</step>{alter}<octave>{pitch.octave}</octave></pitch>"
                f"{duration}{tie}{voice_xml}{tail}{accidental}{modification}{stem}{staff}{beams}{notations}</note>"
            )
            chord = "<chord/>"

    def _id(self, note: DraftNote) -> str:
        count = self.pieces.get(note.id, 0) + 1
        self.pieces[note.id] = count
        return attribute(note.id if count == 1 else f"{note.id}-tie{count}")

    def _rest(self, sign: Written, voice: Voice, out: list[str]) -> None:
        hidden = ' print-object="no"' if sign.hidden else ""
        staff = f"<staff>{voice.staff}</staff>" if self.staves > 1 else ""
        modification = tuplet = ""
        if sign.ratio:
            actual, normal, unit = sign.ratio
            modification = (
                f"<time-modification><actual-notes>{actual}</actual-notes><normal-notes>{normal}</normal-notes>"
                f"<normal-type>{unit}</normal-type></time-modification>"
            )
            tuplet = self._tuplet(sign)
        kind = "" if sign.whole_bar else f"<type>{sign.type}</type>" + "<dot/>" * sign.dots
        rest = '<rest measure="yes"/>' if sign.whole_bar else "<rest/>"
        fermata = self._fermata(sign, voice.staff)
        notations = f"<notations>{tuplet}{fermata}</notations>" if tuplet or fermata else ""
        out.append(
            f"<note{hidden}>{rest}<duration>{sign.ticks // self.unit}</duration><voice>{voice.number}</voice>"
            f"{kind}{modification}{staff}{notations}</note>"
        )

    def _fermata(self, sign: Written, staff: int) -> str:
        if sign.hidden or not self.on.fermatas:
            return ""
        hand = "right" if staff == 1 else "left"
        if any(onset == sign.start and where in ("both", hand) for onset, where in self.on.fermatas):
            return '<fermata type="upright"/>'
        return ""

    @staticmethod
    def _tuplet(sign: Written) -> str:
        found = ""
        if sign.opens:
            found += f'<tuplet type="start" number="1" bracket="{"yes" if sign.bracket else "no"}"/>'
        if sign.closes:
            found += '<tuplet type="stop" number="1"/>'
        return found

    def _common(self, sign: Written, start: int, end: int) -> str:
        """Notations that belong to a chord as a whole; they stand on its first note."""
        found = self._tuplet(sign) if sign.ratio else ""
        notes = sign.notes
        if not (self.on.breaths or self.on.fermatas or any(n.articulations or n.ornaments or n.tremolo or n.fermata for n in notes)):
            return found
        first = [note for note in notes if note.onset == start]
        articulations = dict.fromkeys(name for note in first for name in note.articulations)
        breath = [self.on.breaths[note.id] for note in notes if note.end == end and note.id in self.on.breaths]
        marks = [f"<{name}/>" for name in articulations if name in ARTICULATIONS] + [
            f"<other-articulation>{text_xml(name)}</other-articulation>" for name in articulations if name not in ARTICULATIONS
        ]
        marks += [f"<{name}/>" for name in dict.fromkeys(breath)]
        if marks:
            found += f"<articulations>{''.join(marks)}</articulations>"
        ornaments = dict.fromkeys(name for note in first for name in note.ornaments)
        signs = [f"<{name}/>" for name in ornaments if name in ORNAMENTS] + [
            f"<other-ornament>{text_xml(name)}</other-ornament>" for name in ornaments if name not in ORNAMENTS
        ]
        strokes = max(note.tremolo for note in notes)
        if strokes:
            signs.append(f'<tremolo type="single">{min(strokes, 8)}</tremolo>')
        if signs:
            found += f"<ornaments>{''.join(signs)}</ornaments>"
        held = {onset for onset, where in self.on.fermatas if where in ("both", notes[0].hand)}
        if any((note.fermata or note.onset in held) and note.end == end for note in notes):  # over the last of tied notes
            found += '<fermata type="upright"/>'
        return found

    def _own(self, note: DraftNote, start: int, end: int) -> str:
        """Notations of a single note: slur ends and fingering."""
        found = ""
        if note.onset == start:
            for slur in self.on.begin.get(note.id, ()):
                if number := self.slurs.of(slur):
                    side = f' placement="{self.on.sides[slur]}"' if slur in self.on.sides else ""
                    found += f'<slur type="start" number="{number}"{side}/>'
            if note.finger:
                side = "above" if note.hand == "right" else "below"
                found += f'<technical><fingering placement="{side}">{text_xml(note.finger)}</fingering></technical>'
        if note.end == end:
            for slur in self.on.finish.get(note.id, ()):
                if number := self.slurs.of(slur):
                    found += f'<slur type="stop" number="{number}"/>'
        return found

    def _graces(self, sign: Written, voice: Voice, out: list[str]) -> None:
        graces = sign.graces
        beamed = len(graces) > 1
        kind = "16th" if beamed else "eighth"
        for k, note in enumerate(graces):
            pitch = note.pitch
            alter = f"<alter>{pitch.alter}</alter>" if pitch.alter else ""
            slash = ' slash="yes"' if note.grace_slash else ""
            accidental = f"<accidental>{sign.accidentals[note.id][0]}</accidental>" if note.id in sign.accidentals else ""
            staff = f"<staff>{note.staff or voice.staff}</staff>" if self.staves > 1 else ""
            stem = "<stem>down</stem>" if voice.direction == "down" else "<stem>up</stem>"
            beams = ""
            if beamed:
                state = "begin" if k == 0 else "end" if k == len(graces) - 1 else "continue"
                beams = f'<beam number="1">{state}</beam><beam number="2">{state}</beam>'
            own = self._own(note, note.onset, note.onset)
            notations = f"<notations>{own}</notations>" if own else ""
            out.append(
                f"<note id={self._id(note)}><grace{slash}/><pitch><step>{pitch.step}</step>{alter}<octave>{pitch.octave}</octave></pitch>"
                f"<voice>{voice.number}</voice><type>{kind}</type>{accidental}{stem}{staff}{beams}{notations}</note>"
            )
