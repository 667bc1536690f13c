/** A round of points, as the server says it stands; and what its tones say. No DOM here. */
import { mode, type Trouble } from "./case";

export interface RoundStop { quantity: string; red: string; black: string }
export interface RoundDone { at: number; text: string; value: number | null; sequence: number }
export interface RoundWord {
  kind: "round"; on: boolean; held: boolean; at: number; phase: string; stops: RoundStop[]; done: RoundDone[]; trouble: string;
  seconds: number; stop: [string, string, string] | null; meter: string; ready: boolean;
}
export interface ToneWord { kind: "tone"; tone: string; words: string }

export class Round {
  now = $state.raw<RoundWord | null>(null);
  heard = $state(""); // what the last tone said
  open = $state(false);
  trouble = $state.raw<Trouble | null>(null);
  get on(): boolean { return this.now?.on ?? false; }
  get next(): RoundStop | null { return this.now?.on ? (this.now.stops[this.now.at] ?? null) : null; }
}

/** What to do now, in one line. */
export function phaseWords(word: RoundWord): string {
  if (word.held) return "On hold: nothing is taken.";
  if (word.trouble) return word.trouble;
  if (word.phase === "touching") return "Contact. Keep still.";
  return word.phase === "lift" ? "Lift the probes, then touch the point." : "Touch the point.";
}

/** What is said at a point, to somebody who looks through the microscope: what was taken last, the number of the point,
 * the dial where it has to be turned, and where the probes go. */
export function stopWords(word: RoundWord): string {
  const stop = word.stops[word.at], before = word.stops[word.at - 1], last = word.done.at(-1);
  if (!stop) return "";
  const took = last && last.at === word.at - 1 ? (last.text === "skipped" ? "Skipped. " : `${last.text}. `) : "";
  const dial = before?.quantity === stop.quantity ? "" : `${mode({ act: "read", quantity: stop.quantity, red: "", black: "", feed: null, parts: [] })}. `;
  return `${took}${word.at + 1}. ${dial}Red on ${stop.red}, black on ${stop.black}.`;
}
