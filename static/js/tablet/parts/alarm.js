// The tourniquet's alarm: vibration and a quiet tick. The band and its words on screen are enough without it.

const EVERY_MS = 1000;
let audio = null;
let lastMs = -Infinity;

/** To be called in a tap: browsers let sound begin only then. */
export function readySound() {
  audio ??= globalThis.AudioContext ? new AudioContext() : null;
  if (audio?.state === "suspended") audio.resume();
}

/** One tick and one buzz a second while the alarm stands. @param monoMs monotonic @param sound may it be heard */
export function alarmTick(monoMs, sound) {
  if (monoMs - lastMs < EVERY_MS) return;
  lastMs = monoMs;
  globalThis.navigator?.vibrate?.(180);
  if (sound && audio?.state === "running") click();
}

// Quiet and low: a patient with a needle in the arm must not start.
function click() {
  const tone = audio.createOscillator();
  const loudness = audio.createGain();
  tone.frequency.value = 440;
  loudness.gain.setValueAtTime(0.05, audio.currentTime);
  loudness.gain.exponentialRampToValueAtTime(0.0001, audio.currentTime + 0.09);
  tone.connect(loudness).connect(audio.destination);
  tone.start();
  tone.stop(audio.currentTime + 0.1);
}
