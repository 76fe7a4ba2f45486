// The music: lines are drawn when they come near, their notes are named, marked and reached by the keyboard.

const drawnNotes = new Map(); // note id -> groups that draw it
const SHAPES = { // in units of half a staff space, around the middle of a notehead
  tune: "M-1.1 -2 L1.1 -2 L0 -3.9 Z",
  bass: "M-1.1 2 L1.1 2 L0 3.9 Z",
  octave: "M2.6 -1.3 V1.3 M1.9 -0.6 L2.6 -1.5 L3.3 -0.6 M1.9 0.6 L2.6 1.5 L3.3 0.6",
  rhythm: "M1.7 0.3 C2.1 -0.8 2.6 -0.8 3 0 S3.8 0.8 4.2 -0.3",
  added: "M2.8 -1 V1 M1.8 0 H3.8",
  doubled: "M1.8 -0.45 H3.6 M1.8 0.45 H3.6",
  gone: "M-1.7 -1.7 L1.7 1.7 M-1.7 1.7 L1.7 -1.7",
};

function frame(k) {
  return byId("line-" + k);
}

/** Draw a line of music if it is not there yet. */
function draw(k) {
  const place = frame(k);
  if (!place || place.classList.contains("drawn")) return;
  const [width, height] = place.dataset.view.split(" ");
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("class", "music");
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.setAttribute("role", "group");
  svg.setAttribute("aria-label", `${place.dataset.label}: the orchestra above, the piano draft below`);
  svg.innerHTML = byId("drawing-" + k).textContent;
  place.append(svg);
  place.classList.add("drawn");
  dress(svg);
}

/** Give the notes of a drawing their names, signs and places on the keyboard's way. */
function dress(svg) {
  const seen = new Set();
  let entry = null;
  for (const group of svg.querySelectorAll("g.note[data-n]")) {
    const id = group.dataset.n;
    const note = noteOf(id);
    if (!note) continue;
    if (!drawnNotes.has(id)) drawnNotes.set(id, []);
    drawnNotes.get(id).push(group);
    const row = id[0] === "s" ? rows[note.row] : null;
    const role = row ? row.role : note.role;
    group.classList.add(["tune", "bass", "inner"][role ?? 2], id[0] === "d" ? "of-draft" : "of-source");
    if (row && row.fate === 4) group.classList.add("left-out");
    if (seen.has(id)) { // the tail of a tied note answers to the mouse, but is read once
      group.setAttribute("aria-hidden", "true");
      continue;
    }
    seen.add(id);
    group.setAttribute("role", "button");
    group.setAttribute("tabindex", "-1");
    group.setAttribute("aria-label", spoken(note));
    sign(group, id[0] === "d" ? [["tune", "bass"][note.role], DRAFT_SIGNS[note.sign]] : [row ? FATE_SIGNS[row.fate] : ""]);
    if (!entry && id[0] === "d") entry = group;
  }
  entry = entry || svg.querySelector("g.note[tabindex]");
  if (entry) entry.setAttribute("tabindex", "0");
}

function sign(group, names) {
  const head = group.querySelector("use");
  const at = head && /translate\(([-\d.]+), ?([-\d.]+)\)/.exec(head.getAttribute("transform") || "");
  if (!at) return;
  const half = data.space / 2;
  const hit = document.createElementNS(SVG, "circle"); // room for a fingertip
  for (const [name, value] of [["class", "hit"], ["cx", Number(at[1]) + 1.18 * half], ["cy", at[2]], ["r", 1.7 * half]]) hit.setAttribute(name, value);
  group.append(hit);
  for (const name of names) {
    if (!name) continue;
    const path = document.createElementNS(SVG, "path");
    path.setAttribute("class", "sign " + name);
    path.setAttribute("d", SHAPES[name]);
    path.setAttribute("transform", `translate(${Number(at[1]) + 1.18 * half}, ${at[2]}) scale(${half})`);
    group.append(path);
  }
}

function lineOfBar(place) {
  return data.lines.findIndex(([first, end]) => first <= place && place < end);
}

/** Bring a bar into view, mark it, and give the keyboard its first draft note. */
function goToBar(place, focus = true) {
  const k = lineOfBar(place);
  if (k < 0) return;
  draw(k);
  const system = frame(k).closest(".system");
  scrollTo(system);
  const measure = frame(k).querySelector(`g.measure[data-b="${place}"]`);
  document.querySelectorAll(".bar-frame").forEach((old) => old.remove());
  if (measure) {
    const box = measure.getBBox();
    const rect = document.createElementNS(SVG, "rect");
    for (const [name, value] of [["x", box.x], ["y", box.y - 150], ["width", box.width], ["height", box.height + 300], ["class", "bar-frame"]]) rect.setAttribute(name, value);
    measure.prepend(rect);
    const first = [...measure.querySelectorAll("g.note[tabindex]")].find((group) => group.dataset.n[0] === "d") || measure.querySelector("g.note[tabindex]");
    if (first && focus) focusNote(first);
  }
  here = place;
  say(`Bar ${bars[place].number}`);
}

let here = 0; // the bar that keys speak of

function focusNote(group) {
  const svg = group.closest("svg.music");
  svg.querySelectorAll('g.note[tabindex="0"]').forEach((old) => old.setAttribute("tabindex", "-1"));
  group.setAttribute("tabindex", "0");
  group.focus({ preventScroll: true });
  const note = noteOf(group.dataset.n);
  if (note) here = note.bar;
}

/** The staff a note stands on, counted from the top of its line. */
function staffOf(group) {
  return [...group.closest("g.measure").children].filter((child) => child.classList.contains("staff")).indexOf(group.closest("g.staff"));
}

/** The neighbour of a note: along its staff, or up and down through the chord and on to the next staff. */
function neighbour(group, key) {
  const note = noteOf(group.dataset.n);
  const all = [...group.closest("svg.music").querySelectorAll("g.note[tabindex]")]
    .map((g) => ({ group: g, note: noteOf(g.dataset.n), staff: staffOf(g) }));
  const staff = staffOf(group);
  if (key === "ArrowLeft" || key === "ArrowRight") {
    const forward = key === "ArrowRight";
    const row = all.filter((one) => one.staff === staff && (forward ? one.note.start > note.start : one.note.start < note.start));
    row.sort((a, b) => (forward ? a.note.start - b.note.start : b.note.start - a.note.start) || b.note.midi - a.note.midi);
    return row.length ? row[0].group : null;
  }
  const up = key === "ArrowUp";
  const chord = all.filter((one) => one.staff === staff && one.note.start === note.start && (up ? one.note.midi > note.midi : one.note.midi < note.midi));
  chord.sort((a, b) => (up ? a.note.midi - b.note.midi : b.note.midi - a.note.midi));
  if (chord.length) return chord[0].group;
  const others = all.filter((one) => (up ? one.staff < staff : one.staff > staff) && one.note.bar === note.bar);
  others.sort((a, b) => Math.abs(a.staff - staff) - Math.abs(b.staff - staff) || Math.abs(a.note.start - note.start) - Math.abs(b.note.start - note.start));
  return others.length ? others[0].group : null;
}

function acrossLines(group, key) {
  const place = group.closest(".line");
  if (!place.id) return null;
  const k = Number(place.id.slice(5)) + (key === "ArrowRight" ? 1 : -1);
  if (!frame(k)) return null;
  draw(k);
  const notes = [...frame(k).querySelectorAll("g.note[tabindex]")].filter((g) => staffOf(g) === staffOf(group));
  return notes.length ? notes[key === "ArrowRight" ? 0 : notes.length - 1] : null;
}

document.addEventListener("click", (event) => {
  const group = event.target.closest && event.target.closest("g.note[data-n]");
  if (group) {
    const first = drawnNotes.get(group.dataset.n)?.find((one) => one.hasAttribute("tabindex") && one.closest("svg") === group.closest("svg")) || group;
    if (first.hasAttribute("tabindex")) focusNote(first);
    showNote(group.dataset.n, first);
  }
  const link = event.target.closest && event.target.closest("[data-bar]");
  if (link) {
    event.preventDefault();
    goToBar(Number(link.dataset.bar));
  }
});

document.addEventListener("keydown", (event) => {
  const group = event.target.closest && event.target.closest("g.note[data-n]");
  if (!group || event.altKey || event.ctrlKey || event.metaKey) return;
  if (event.key === "Enter" || event.key === " ") {
    event.preventDefault();
    showNote(group.dataset.n, group);
  } else if (event.key.startsWith("Arrow")) {
    const next = neighbour(group, event.key) || (event.key === "ArrowLeft" || event.key === "ArrowRight" ? acrossLines(group, event.key) : null);
    if (next) {
      event.preventDefault();
      focusNote(next);
      next.scrollIntoView({ block: "nearest", inline: "nearest" });
    }
  }
});

const watcher = new IntersectionObserver((entries) => {
  for (const entry of entries) {
    if (entry.isIntersecting) {
      draw(Number(entry.target.id.slice(5)));
      watcher.unobserve(entry.target);
    }
  }
}, { rootMargin: "900px 0px" });

document.querySelectorAll("svg.music").forEach(dress);
document.querySelectorAll(".line:not(.drawn)").forEach((place) => watcher.observe(place));
byId("show-signs").addEventListener("change", (event) => document.body.classList.toggle("no-signs", !event.target.checked));
addEventListener("beforeprint", () => data.lines.forEach((_, k) => draw(k)));
