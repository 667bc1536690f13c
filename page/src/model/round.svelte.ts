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
  private told = $state.raw<RoundWord | null>(null);
  private heardOf = 0; // words of this round that came over the line
  heard = $state(""); // what the last tone said
  open = $state(false);
  trouble = $state.raw<Trouble | null>(null);
  /** A word comes with every contact. What is said follows only what is different in it, or each point is said at each touch. */
  readonly on = $derived(this.told?.on ?? false);
  /** The point and what is said there; empty where no round is under way. */
  readonly words = $derived(this.told?.on ? stopWords(this.told) : "");
  get now(): RoundWord | null { return this.told; }
  get next(): RoundStop | null { return this.told?.on ? (this.told.stops[this.told.at] ?? null) : null; }
  /** How it stands now. Gives what is said when it has come to its end by itself. */
  hear(word: RoundWord): string {
    const ended = this.on && !word.on && word.trouble ? partingWords(word) : "";
    this.heardOf++;
    this.told = word;
    if (word.on) this.open = true;
    return ended;
  }
  /** Ask how it stands; an answer that comes after a newer word is old news. */
  async look(asked: Promise<RoundWord | null>): Promise<void> {
    const before = this.heardOf, word = await asked;
    if (!word || before !== this.heardOf) return;
    this.told = word;
  }
}

/** What to do now, in one line. */
export function phaseWords(word: RoundWord): string {
  if (word.held) return "On hold: nothing is taken.";
  if (word.trouble) return word.trouble;
  if (word.phase === "touching") return "Contact. Keep still.";
  return word.phase === "lift" ? "Lift the probes, then touch the point." : "Touch the point.";
}

/** What is said at the end of a round: nothing on the screen has to be read for the last value either. */
export function partingWords(word: RoundWord): string {
  const last = word.done.at(-1);
  return `${last && last.at === word.at - 1 ? (last.text === "skipped" ? "Skipped. " : `${last.text}. `) : ""}${word.trouble}`;
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
