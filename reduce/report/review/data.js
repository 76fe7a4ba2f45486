"use strict";
// The page's data under readable names, and small helpers.  Texts reach the page as text nodes only, never as markup.

const data = JSON.parse(document.getElementById("data").textContent);
const byId = (id) => document.getElementById(id);
const SVG = "http://www.w3.org/2000/svg";
const FATES = ["kept as it is", "played in another octave", "left to another note that sounds the same", "heard in another rhythm", "left out"];
const FATE_SIGNS = ["", "octave", "doubled", "rhythm", "gone"];
const DRAFT_SIGNS = ["", "octave", "rhythm", "added"];
const DRAFT_WORDS = ["as in the source", "in another octave than in the source", "in another rhythm than in the source", "added, no instrument strikes it"];
const ROLE_WORDS = ["the tune", "the bass", "an inner note"];
const HANDS = ["right", "left"];

const bars = data.bars.map(([number, start, length, beat, lacking], place) => ({ place, number, start, length, beat, lacking }));
const draft = data.draft.map(([bar, start, length, midi, name, hand, role, beat, sign, rows, reasons], place) =>
  bar === undefined ? null : { id: "d" + place, bar, start, length, midi, name, hand: HANDS[hand], role, beat, sign, rows, reasons });
const rows = data.rows.map(([part, pitch, bar, beat, fate, reasons, notes, role]) =>
  ({ part: data.parts[part], pitch, bar, beat, fate, reasons, notes, role }));
const source = data.source.map(([bar, start, length, midi, row], place) =>
  bar === undefined ? null : { id: "s" + place, bar, start, length, midi, row });

/** The note of a drawing: 'd12' of the draft, 's7' of the source; null where the file does not know it. */
function noteOf(id) {
  return (id[0] === "d" ? draft : source)[Number(id.slice(1))] || null;
}

/** A note as it is read aloud. */
function spoken(note) {
  if (note.id[0] === "d") {
    return `${note.name}, ${note.hand} hand, bar ${bars[note.bar].number} beat ${note.beat}, ${ROLE_WORDS[note.role]}, ${DRAFT_WORDS[note.sign]}`;
  }
  const row = rows[note.row];
  return row ? `Orchestra: ${row.pitch}, ${row.part}, bar ${bars[note.bar].number} beat ${row.beat}, ${FATES[row.fate]}` : "Orchestra: a note";
}

/** An element with attributes and children; a string child becomes a text node. */
function make(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name === "onclick") made.addEventListener("click", value);
    else if (value !== false && value !== undefined) made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined));
  return made;
}

/** Tell what happened to those who do not see the page. */
function say(words) {
  byId("said").textContent = "";
  setTimeout(() => { byId("said").textContent = words; }, 30);
}

const calm = matchMedia("(prefers-reduced-motion: reduce)");
function scrollTo(target, block = "start") {
  const far = Math.abs(target.getBoundingClientRect().top) > 3 * innerHeight; // a long ride helps nobody
  target.scrollIntoView({ block, behavior: calm.matches || far ? "auto" : "smooth" });
}

/** The place of a printed bar number, or -1. */
function barNamed(number) {
  return bars.findIndex((bar) => bar.number === number.trim());
}
