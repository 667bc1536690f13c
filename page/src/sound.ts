/** Tones and a voice of this machine. Both are off until asked for; who begins a round asks for them. */

const TONES: Record<string, [number, number][]> = {
  contact: [[660, 0.04]], taken: [[660, 0.07], [990, 0.1]], inband: [[660, 0.06], [990, 0.06], [1320, 0.1]], wait: [[440, 0.05], [440, 0.05], [440, 0.05]], low: [[220, 0.25]],
  overload: [[1400, 0.05], [1400, 0.05]], refused: [[180, 0.15], [140, 0.25]],
};
/** How loud the tones of a round are until somebody has set it. */
export const IN_A_ROUND = 0.5;
export function storedVolume(): number | null {
  const found = localStorage.getItem("ohmwright.volume"), value = Number(found);
  return found !== null && value >= 0 && value <= 1 ? value : null;
}
let context: AudioContext | null = null;

export function tone(name: keyof typeof TONES, volume: number): void {
  if (volume <= 0) return;
  context ??= new AudioContext();
  let at = context.currentTime;
  for (const [hertz, seconds] of TONES[name] ?? []) {
    const source = context.createOscillator(), gain = context.createGain();
    source.frequency.value = hertz;
    gain.gain.setValueAtTime(volume * 0.3, at);
    gain.gain.exponentialRampToValueAtTime(0.001, at + seconds);
    source.connect(gain).connect(context.destination);
    source.start(at);
    source.stop(at + seconds);
    at += seconds + 0.03;
  }
}

/** A voice of this machine: one from elsewhere would send the words there. Chromium lists voices a moment after the start. */
function localVoice(): SpeechSynthesisVoice | null {
  const mine = speechSynthesis.getVoices().filter((one) => one.localService);
  return mine.find((one) => one.default && one.lang.startsWith("en")) ?? mine.find((one) => one.lang.startsWith("en")) ?? null;
}
export function canSpeak(): boolean { return "speechSynthesis" in window && localVoice() !== null; }

/** Say this now, in place of what is being said; or after it. */
export function say(text: string, after = false): void {
  if (!("speechSynthesis" in window)) return;
  if (!after) speechSynthesis.cancel();
  const voice = localVoice();
  if (!voice) return;
  const words = new SpeechSynthesisUtterance(text);
  words.voice = voice; words.lang = voice.lang;
  speechSynthesis.speak(words);
}
