// Two plain instruments of additive tones: a struck string for the piano, a held one for the orchestra, and a tick for the click.

let audio = null;
let waves = null;

function soundOn() {
  if (!audio) {
    audio = new (window.AudioContext || window.webkitAudioContext)();
    const master = audio.createDynamicsCompressor();
    master.connect(audio.destination);
    const struck = audio.createPeriodicWave(new Float32Array(9), new Float32Array([0, 1, 0.55, 0.3, 0.22, 0.12, 0.08, 0.04, 0.02]));
    const held = audio.createPeriodicWave(new Float32Array(7), new Float32Array([0, 1, 0.4, 0.45, 0.15, 0.12, 0.05]));
    waves = { struck, held, master };
  }
  if (audio.state === "suspended") audio.resume();
  return audio;
}

const sounding = new Set();

/** Sound a key at a moment of the audio clock for some seconds. */
function tone(midi, when, seconds, kind, loudness = 1) {
  const frequency = 440 * 2 ** ((midi - 69) / 12);
  const voice = audio.createOscillator();
  const gain = audio.createGain();
  const end = when + Math.max(0.08, seconds);
  voice.frequency.value = frequency;
  voice.setPeriodicWave(kind === "piano" ? waves.struck : waves.held);
  const peak = 0.16 * loudness * (midi > 84 ? 0.7 : 1);
  gain.gain.setValueAtTime(0.0001, when);
  if (kind === "piano") {
    const ring = Math.max(0.5, 2.4 - (midi - 40) / 32); // low strings ring longer
    gain.gain.exponentialRampToValueAtTime(peak, when + 0.006);
    gain.gain.exponentialRampToValueAtTime(Math.max(0.0002, peak * Math.exp(-(end - when) / ring)), end);
  } else {
    gain.gain.exponentialRampToValueAtTime(peak * 0.55, when + 0.05);
    gain.gain.setValueAtTime(peak * 0.55, Math.max(when + 0.05, end - 0.03));
  }
  gain.gain.exponentialRampToValueAtTime(0.0001, end + 0.09);
  voice.connect(gain).connect(waves.master);
  voice.start(when);
  voice.stop(end + 0.1);
  sounding.add(voice);
  voice.onended = () => { sounding.delete(voice); gain.disconnect(); };
}

function tick(when, strong) {
  const voice = audio.createOscillator();
  const gain = audio.createGain();
  voice.type = "square";
  voice.frequency.value = strong ? 1800 : 1200;
  gain.gain.setValueAtTime(strong ? 0.09 : 0.05, when);
  gain.gain.exponentialRampToValueAtTime(0.0001, when + 0.04);
  voice.connect(gain).connect(waves.master);
  voice.start(when);
  voice.stop(when + 0.05);
  sounding.add(voice);
  voice.onended = () => { sounding.delete(voice); gain.disconnect(); };
}

function silence() {
  for (const voice of sounding) {
    try { voice.stop(); } catch { /* it has not begun */ }
  }
  sounding.clear();
}
