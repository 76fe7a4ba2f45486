// The player: what is heard, how fast, which bars, again and again; and the notes lit up as they sound.

/** Seconds from the beginning to a quarter, by the draft's tempos at full speed. */
const tempos = data.tempos.length ? data.tempos : [[0, 90]];
function secondsAt(quarter) {
  let seconds = 0;
  for (let i = 0; i < tempos.length; i += 1) {
    const from = i === 0 ? 0 : tempos[i][0];
    const to = i + 1 < tempos.length ? Math.min(tempos[i + 1][0], quarter) : quarter;
    if (to > from) seconds += ((to - from) * 60) / tempos[i][1];
  }
  return seconds;
}

const notesByBar = { d: bars.map(() => []), s: bars.map(() => []) };
for (const note of draft) if (note) notesByBar.d[note.bar].push(note);
for (const note of source) if (note) notesByBar.s[note.bar].push(note);

/** Everything that happens in some bars, in seconds from their beginning. */
function score(order, what) {
  const events = [];
  let at = 0;
  for (const place of order) {
    const bar = bars[place];
    const begin = secondsAt(bar.start);
    const time = (quarter) => at + secondsAt(quarter) - begin;
    const notes = what === "source" ? notesByBar.s[place] : notesByBar.d[place].filter((note) => what === "draft" || note.hand === what);
    for (const note of notes) {
      events.push({ at: time(note.start), length: Math.max(0.07, time(note.start + note.length) - time(note.start)), note, bar: place });
    }
    for (let beat = bar.start; beat < bar.start + bar.length - 0.001; beat += bar.beat) {
      events.push({ at: time(beat), click: true, strong: beat === bar.start && !bar.lacking, bar: place });
    }
    at += secondsAt(bar.start + bar.length) - begin;
  }
  events.sort((a, b) => a.at - b.at);
  return { events, length: at };
}

const playing = { on: false, timer: 0, piece: null, next: 0, zero: 0, speed: 1, lit: [], due: [] };

function play(order, what, again) {
  stop();
  if (!order.length) return;
  soundOn();
  Object.assign(playing, { on: true, piece: score(order, what), next: 0, zero: audio.currentTime + 0.12, speed: Number(byId("speed").value) / 100, what, again, order, due: [] });
  byId("play").textContent = "Stop";
  byId("play").setAttribute("aria-pressed", "true");
  playing.timer = setInterval(step, 40);
  step();
}

function stop() {
  clearInterval(playing.timer);
  playing.on = false;
  if (audio) silence();
  playing.lit.forEach((group) => group.classList.remove("sounding"));
  playing.lit = [];
  byId("play").textContent = "Play";
  byId("play").setAttribute("aria-pressed", "false");
  byId("where").textContent = "stopped";
}

/** Hand the next fifth of a second to the audio clock, and light up what sounds now. */
function step() {
  const { piece, speed } = playing;
  while (playing.next < piece.events.length) {
    const event = piece.events[playing.next];
    const when = playing.zero + event.at / speed;
    if (when > audio.currentTime + 0.2) break;
    if (event.click) {
      if (byId("click").checked) tick(Math.max(when, audio.currentTime), event.strong);
    } else {
      tone(event.note.midi, Math.max(when, audio.currentTime), event.length / speed, playing.what === "source" ? "held" : "piano", event.note.role === 0 ? 1.25 : 0.85);
    }
    playing.due.push({ event, when, until: when + (event.length || 0) / speed });
    playing.next += 1;
  }
  light();
  if (playing.next >= piece.events.length && audio.currentTime > playing.zero + piece.length / speed) {
    if (playing.again) {
      Object.assign(playing, { next: 0, zero: Math.max(audio.currentTime, playing.zero + piece.length / speed) });
    } else {
      stop();
    }
  }
}

function light() {
  const now = audio.currentTime;
  playing.lit.forEach((group) => group.classList.remove("sounding"));
  playing.lit = [];
  playing.due = playing.due.filter((one) => one.until > now || one.when > now - 0.05);
  let bar = -1;
  for (const { event, when, until } of playing.due) {
    if (when > now) continue;
    bar = Math.max(bar, event.bar);
    if (event.note && until > now) {
      for (const group of drawnNotes.get(event.note.id) || []) {
        group.classList.add("sounding");
        playing.lit.push(group);
      }
    }
  }
  if (bar >= 0 && playing.shownBar !== bar) {
    playing.shownBar = bar;
    byId("where").textContent = `bar ${bars[bar].number}`;
    const k = lineOfBar(bar);
    if (k >= 0) draw(k);
    if (byId("follow").checked && k >= 0 && k !== playing.shownLine && playing.order.length > 1) {
      playing.shownLine = k;
      if (!playing.quiet) scrollTo(frame(k), "center");
    }
  }
}

function barsBetween(first, last) {
  return bars.slice(first, last + 1).map((bar) => bar.place);
}

/** The wish of the controls: the whole piece with its repeats, or the bars named. */
function playAsked() {
  const first = barNamed(byId("from").value);
  const last = barNamed(byId("to").value);
  if (first < 0 || last < 0 || last < first) {
    byId("where").textContent = "no such bars";
    say("There are no such bars.");
    return;
  }
  const whole = first === 0 && last === bars.length - 1 && !byId("loop").checked;
  playing.quiet = false;
  play(whole ? data.order : barsBetween(first, last), byId("what").value, byId("loop").checked);
}

function toggle() {
  if (playing.on) stop(); else playAsked();
}

byId("play").addEventListener("click", toggle);
byId("speed").addEventListener("input", () => {
  const speed = Number(byId("speed").value) / 100;
  byId("speed-said").textContent = `${byId("speed").value} %`;
  if (playing.on) { // go on from the same place in the music
    const at = (audio.currentTime - playing.zero) * playing.speed;
    playing.zero = audio.currentTime - at / speed;
    playing.speed = speed;
  }
});
byId("loop").addEventListener("change", (event) => { playing.again = event.target.checked; });
byId("what").addEventListener("change", () => { if (playing.on) playAsked(); });

document.addEventListener("click", (event) => {
  const button = event.target.closest && event.target.closest("[data-play]");
  if (!button) return;
  const [first, last] = button.dataset.play.split("-").map(Number);
  const same = playing.on && playing.button === button;
  stop();
  if (same) return;
  playing.button = button;
  playing.quiet = true;
  play(barsBetween(first, last), button.dataset.what || byId("what").value, byId("loop").checked);
});
