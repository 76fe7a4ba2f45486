// The arranger's answers as entries of her choices file.

const ORDER = ["bars", "hand", "beat", "melody", "bass", "key", "cut", "figure", "octave", "move", "keep", "drop", "chord", "lock", "add", "remove", "change", "slur", "no-slur", "to", "length", "level", "reason"];
const BARE = { true: "true" };

/** One entry as TOML: strings quoted, `lock = true` bare. */
function entryText(choice) {
  const lines = ["[[choice]]"];
  for (const name of ORDER) {
    if (!(name in choice)) continue;
    lines.push(`${name} = ${BARE[choice[name]] || JSON.stringify(choice[name])}`);
  }
  return lines.join("\n") + "\n";
}

const tray = byId("choices");
const shelf = "review of " + data.key;

function remember() {
  try { localStorage.setItem(shelf, tray.value); } catch { /* a browser without memory for files */ }
}
try { tray.value = localStorage.getItem(shelf) || ""; } catch { /* the same */ }

/** Put an entry among her choices; asks for her reason where she may give one. */
function choose(choice, words) {
  const entry = entryText(choice);
  tray.value += (tray.value && !tray.value.endsWith("\n\n") ? "\n" : "") + entry;
  remember();
  say(`${words}: added to your choices at the end of the page`);
  document.querySelectorAll(".tray h2").forEach((head) => { head.textContent = `Your choices (${(tray.value.match(/^\[\[choice\]\]/gm) || []).length})`; });
}

/** The buttons with which a decision can be answered; runners-up are shown as notes. */
function answers(decision) {
  const box = make("div", { class: "answers" });
  const others = make("div", { class: "others" });
  for (const offer of decision.offers || []) {
    const choice = Object.fromEntries(Object.entries(offer.choice));
    const entry = make("pre", {}, entryText(choice));
    const pick = make("button", { type: "button", onclick: () => choose(choice, offer.say) }, offer.say);
    if (offer.keep) box.append(make("div", { class: "offer" }, pick, entry));
    else others.append(make("div", { class: "offer" }, pick, offer.part && decision.at ? lineOf(offer.part, decision.at) : null, entry));
  }
  if (others.childNodes.length) box.append(make("p", { class: "small" }, "Not like this:"), others);
  return box;
}

/** What an instrument plays in some bars: its first notes on a small staff, and a button to hear them. */
function lineOf(part, [first, last]) {
  const found = [];
  for (const row of rows) {
    if (row.part !== part || row.bar < first || row.bar > last || typeof row.beat !== "number") continue;
    const bar = bars[row.bar];
    found.push({ at: bar.start + (row.beat - 1) * bar.beat - bar.lacking, midi: midiOf(row.pitch), name: row.pitch });
  }
  found.sort((a, b) => a.at - b.at || b.midi - a.midi);
  const tops = found.filter((note, i) => i === 0 || note.at !== found[i - 1].at).slice(0, 16);
  if (!tops.length) return null;
  const names = tops.map((note) => note.name).join(" ");
  const hear = make("button", { type: "button", onclick: () => hearLine(tops) }, "Hear it", make("span", { class: "unseen" }, `: ${part}`));
  return make("span", { class: "heard" }, smallStaff(tops, `${part}: ${names}`), hear);
}

function hearLine(notes) {
  stop();
  soundOn();
  const begin = audio.currentTime + 0.1;
  notes.forEach((note, i) => {
    const from = secondsAt(note.at) - secondsAt(notes[0].at);
    const to = i + 1 < notes.length ? secondsAt(notes[i + 1].at) - secondsAt(notes[0].at) : from + 0.7;
    tone(note.midi, begin + from, Math.min(2, to - from), "held");
  });
}

const STEPS = "CDEFGAB";
const NATURAL = [0, 2, 4, 5, 7, 9, 11];
const ACCIDENTALS = { "♯": 1, "♭": -1, "𝄪": 2, "𝄫": -2, "": 0 };
function takenApart(pitch) {
  const [, step, sign, octave] = /^([A-G])(\D*?)(-?\d+)$/u.exec(pitch) || [null, "C", "", "4"];
  return { step: STEPS.indexOf(step), sign, octave: Number(octave) };
}
function midiOf(pitch) {
  const { step, sign, octave } = takenApart(pitch);
  return 12 * (octave + 1) + NATURAL[step] + (ACCIDENTALS[sign] || 0);
}

/** Noteheads on five lines, without rhythm: enough to recognise a line. */
function smallStaff(notes, label) {
  const places = notes.map((note) => { const { step, octave } = takenApart(note.name); return 7 * octave + step; });
  const treble = places.reduce((sum, place) => sum + place, 0) / places.length >= 28; // around middle C and above
  const bottom = treble ? 30 : 18; // E4 or G2 on the lowest line
  const low = Math.min(0, ...places.map((place) => place - bottom)) - 2;
  const high = Math.max(8, ...places.map((place) => place - bottom)) + 2;
  const svg = document.createElementNS(SVG, "svg");
  const width = 30 + 18 * notes.length;
  const y = (place) => (high - place) * 4;
  svg.setAttribute("class", "small-staff");
  svg.setAttribute("viewBox", `0 0 ${width} ${(high - low) * 4}`);
  svg.setAttribute("width", width);
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", label);
  const add = (tag, attributes, text) => {
    const made = document.createElementNS(SVG, tag);
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    if (text) made.textContent = text;
    svg.append(made);
  };
  for (let line = 0; line <= 8; line += 2) add("line", { x1: 0, x2: width, y1: y(line), y2: y(line), class: "staff-line" });
  add("text", { x: 2, y: y(treble ? 1 : 5), class: "clef" }, treble ? "G" : "F");
  places.forEach((place, i) => {
    const at = place - bottom;
    const x = 30 + 18 * i;
    for (let line = 10; line <= at; line += 2) add("line", { x1: x - 7, x2: x + 7, y1: y(line), y2: y(line), class: "staff-line" });
    for (let line = -2; line >= at; line -= 2) add("line", { x1: x - 7, x2: x + 7, y1: y(line), y2: y(line), class: "staff-line" });
    add("ellipse", { cx: x, cy: y(at), rx: 4.6, ry: 3.6 });
    const { sign } = takenApart(notes[i].name);
    if (sign) add("text", { x: x - 13, y: y(at) + 4, class: "accidental" }, sign);
  });
  return svg;
}

function lockBars(first, last, hand) {
  const named = first === last ? bars[first].number : `${bars[first].number}-${bars[last].number}`;
  choose({ bars: named, ...(hand ? { hand } : {}), lock: "true" }, `Lock bar ${named}`);
}

document.addEventListener("click", (event) => {
  const button = event.target.closest && event.target.closest("[data-lock]");
  if (button) lockBars(...button.dataset.lock.split("-").map(Number));
});
tray.addEventListener("input", remember);
byId("clear").addEventListener("click", () => { tray.value = ""; remember(); say("Your choices are empty"); });
byId("copy").addEventListener("click", async () => {
  tray.select();
  try {
    await navigator.clipboard.writeText(tray.value);
  } catch {
    document.execCommand("copy");
  }
  say("Copied");
});
byId("save")?.addEventListener("click", async () => {
  let words;
  try {
    const answer = await fetch("choices", { method: "POST", headers: { "Content-Type": "application/toml" }, body: tray.value });
    const told = await answer.text();
    words = answer.ok ? told : `Not written. ${told}`;
    if (answer.ok) { tray.value = ""; remember(); }
  } catch {
    words = "Not written: the program that served this page has been stopped.";
  }
  byId("tray-help").textContent = words;
  say(words);
});
