// Two sounds that are told apart in a noisy room: right is one short high note,
// wrong is two long low ones. Where sound is not allowed, nothing happens.
let audio;

function note(from, hertz, seconds) {
  const osc = audio.createOscillator();
  const gain = audio.createGain();
  osc.type = "square";
  osc.frequency.value = hertz;
  gain.gain.setValueAtTime(0.15, from);
  gain.gain.linearRampToValueAtTime(0, from + seconds);
  osc.connect(gain).connect(audio.destination);
  osc.start(from);
  osc.stop(from + seconds);
}

export function beep(right) {
  // Before the first touch a browser refuses to shake and says so.
  if (navigator.userActivation?.hasBeenActive ?? true) navigator.vibrate?.(right ? 60 : [250, 100, 250]);
  try {
    audio ??= new AudioContext();
    audio.resume();
    const t = audio.currentTime;
    if (right) note(t, 1320, 0.12);
    else [0, 0.35].forEach((d) => note(t + d, 165, 0.28));
  } catch {
    // no sound device
  }
}
