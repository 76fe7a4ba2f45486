// What a note answers: what it stands for, from which instruments, why here, what was refused, what would change it.

const card = byId("card");
let askedFrom = null;

function showNote(id, group) {
  const note = noteOf(id);
  if (!note) return;
  askedFrom = group || askedFrom;
  document.querySelectorAll(".chosen").forEach((old) => old.classList.remove("chosen"));
  document.querySelectorAll(".linked").forEach((old) => old.classList.remove("linked"));
  (drawnNotes.get(id) || []).forEach((one) => one.classList.add("chosen"));
  const body = id[0] === "d" ? ofDraft(note) : ofSource(note);
  card.replaceChildren(make("button", { type: "button", class: "close", onclick: closeCard }, "Close"), ...body);
  card.hidden = false;
  document.body.classList.add("asking");
  clearOf(card, group);
  say(card.textContent.slice(5, 400));
}

/** On a narrow screen the card covers the lower half: bring the note above it. */
function clearOf(sheet, group) {
  const over = sheet.getBoundingClientRect();
  const note = group && group.getBoundingClientRect();
  if (note && over.width > 0.8 * innerWidth && note.bottom > over.top - 24) scrollBy(0, note.bottom - over.top + 48);
}

function closeCard() {
  card.hidden = true;
  document.body.classList.remove("asking");
  document.querySelectorAll(".chosen, .linked").forEach((old) => old.classList.remove("chosen", "linked"));
  if (askedFrom && askedFrom.isConnected) askedFrom.focus({ preventScroll: true });
}

function ofDraft(note) {
  note.rows.forEach((place) => link("s", source.findIndex((one) => one && one.row === place)));
  const bar = bars[note.bar];
  return [
    make("h2", {}, `${note.name} `, make("small", {}, `bar ${bar.number}, beat ${note.beat}, ${note.hand} hand`)),
    make("p", {}, `This is ${ROLE_WORDS[note.role]}, ${DRAFT_WORDS[note.sign]}.`),
    ...standsFor(note),
    ...why(note.reasons),
    make("h3", {}, "Your answer"),
    ...noteChoices(note, bar),
  ];
}

function link(letter, place) {
  if (place >= 0) (drawnNotes.get(letter + place) || []).forEach((one) => one.classList.add("linked"));
}

function standsFor(note) {
  if (!note.rows.length) return [make("p", {}, "It stands for no note of the orchestra.")];
  const byPart = new Map();
  for (const place of note.rows) {
    const row = rows[place];
    if (!byPart.has(row.part)) byPart.set(row.part, []);
    byPart.get(row.part).push(`${row.pitch}${row.bar === note.bar && row.beat === note.beat ? "" : ` (bar ${row.bar < 0 ? "?" : bars[row.bar].number}, beat ${row.beat})`}, ${FATES[row.fate]}`);
  }
  const list = make("ul", { class: "stands" });
  for (const [part, notes] of byPart) {
    const told = [...new Set(notes)];
    list.append(make("li", {}, make("b", {}, part), `: ${told.slice(0, 4).join("; ")}${told.length > 4 ? `; and ${told.length - 4} more` : ""}`));
  }
  return [make("h3", {}, "Stands for"), list];
}

function ofSource(note) {
  const row = rows[note.row];
  if (!row) return [make("h2", {}, "A note of the orchestra"), make("p", {}, "The log does not name it.")];
  row.notes.forEach((place) => link("d", place));
  const heard = row.notes.map((place) => draft[place]).filter(Boolean)
    .map((one) => `${one.name} (${one.hand} hand, bar ${bars[one.bar].number}, beat ${one.beat})`);
  return [
    make("h2", {}, `${row.pitch} `, make("small", {}, `${row.part}, bar ${row.bar < 0 ? "?" : bars[row.bar].number}, beat ${row.beat}`)),
    make("p", {}, `Its fate: ${FATES[row.fate]}${heard.length ? `; in the draft ${heard.slice(0, 3).join(", ")}` : ""}.`),
    ...why(row.reasons),
  ];
}

function why(places) {
  if (!places.length) return [make("p", {}, "No decision names it.")];
  const list = make("ol", { class: "why" });
  for (const place of places.slice(0, 5)) {
    const decision = data.decisions[place];
    const item = make("li", {}, make("p", {}, decision.sentence, decision.by === "arranger" ? " (your choice)" : ""));
    if (decision.refused) {
      item.append(make("ul", { class: "refused" }, ...decision.refused.map((words) => make("li", {}, words))));
    }
    item.append(make("details", {}, make("summary", {}, "Figures, setting, your answer"), ...figures(decision), answers(decision)));
    list.append(item);
  }
  return [make("h3", {}, "Why"), list];
}

/** The numbers of a decision and the setting that would change it. */
function figures(decision) {
  const told = [];
  if (decision.measured !== undefined) {
    told.push(make("p", {}, `Measured ${decision.measured}${decision.limit === undefined ? "" : `, limit ${decision.limit}`} ${decision.unit || ""}`));
  }
  told.push(make("p", {}, `${Math.round(100 * decision.sure)} % sure; decided by ${decision.by === "arranger" ? "you" : "the " + decision.by}.`));
  if (decision.rule) told.push(make("p", {}, "Rule ", make("code", {}, decision.rule), decision.setting ? "; this setting would change it: " : "", decision.setting ? make("code", {}, decision.setting) : ""));
  return told;
}

/** A pitch as the choices file writes it. */
function plainPitch(name) {
  return name.replaceAll("♯", "#").replaceAll("♭", "b").replaceAll("𝄪", "##").replaceAll("𝄫", "bb");
}

/** Quarter-notes as a number the choices file reads exactly: '1.5', or a fraction where decimals do not end. */
function exactly(quarters) {
  for (const parts of [1, 2, 4, 8, 16, 32, 3, 6, 12, 24, 5, 7]) {
    const whole = Math.round(quarters * parts);
    if (Math.abs(whole - quarters * parts) < 0.001 * parts) return parts === 1 ? String(whole) : `${whole}/${parts}`;
  }
  return String(quarters);
}

function noteChoices(note, bar) {
  const place = { bars: bar.number, hand: note.hand, beat: exactly(note.start - bar.start) };
  const pitch = plainPitch(note.name);
  const moved = (octaves) => pitch.replace(/-?\d+$/, (octave) => String(Number(octave) + octaves));
  const other = note.hand === "right" ? "left" : "right";
  const ways = [
    ["Lock this moment", { ...place, lock: "true" }],
    ["Leave this note out", { ...place, remove: pitch }],
    ["An octave higher", { ...place, change: pitch, to: moved(1) }],
    ["An octave lower", { ...place, change: pitch, to: moved(-1) }],
    [`To the ${other} hand`, { ...place, change: pitch, to: other }],
  ];
  return [make("div", { class: "answers" }, ...ways.map(([words, choice]) =>
    make("button", { type: "button", onclick: () => choose(choice, words) }, words)))];
}

card.addEventListener("keydown", (event) => { if (event.key === "Escape") closeCard(); });
