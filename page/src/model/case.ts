/** What the server says of a case. Names and units are those of the Python values: SI, unsuffixed. */
import type { Layer } from "./map";
import type { RoundWord, ToneWord } from "./round.svelte";
import type { SupplyWord } from "./supply.svelte";

export interface Hump { key: string; words: string; probability: number; low: number; high: number; overload: number }
export interface Feed { plus: string; minus: string; volts: number; limit: number }
export interface Step { act: string; quantity: string; red: string; black: string; feed: Feed | null; parts: string[] }
export interface Outcome { words: string; probability: number; then: string }
export interface Caution { code: string; text: string }
export interface Test {
  kind: string; title: string; why: string; steps: Step[]; minutes: number; risk: number; bits: number;
  humps: Hump[]; outcomes: Outcome[]; cautions: Caution[]; gate: boolean;
}
export interface Advice { tests: Test[]; stop: string; would_decide: string; refused: string[] }
export interface Reason { event: string; text: string; bits: number }
export interface Suspect { key: string; part: string; mode: string; where: string[]; words: string; probability: number; reasons: Reason[]; extent: string }
export interface Group { members: string[]; probability: number; words: string; split_by: string }
export interface Claim { level: string; part: string; words: string; signs: { text: string; events: string[] }[] }
export interface Contradiction { events: string[]; text: string; most_likely_wrong: string }
export interface Diagnosis {
  suspects: Suspect[]; groups: Group[]; claims: Claim[]; contradictions: Contradiction[]; rest: number; approximate: boolean;
}
export interface KnownFact {
  sequence: number; key: string; kind: string; text: string; at: string; undone: boolean; lost: string;
  points: string[]; reading: boolean; breaks: boolean;
}
export interface BenchState {
  feed: Feed | null; last_feed: Feed | null; feed_words: string; off: string[]; replaced: string[]; cleaned: string[]; bridges: string[][];
  discharged: boolean; battery: string; entries: { net: string; volts: number | null; polarity: boolean; battery_off: boolean }[]; amps: string; cautions: { code: string; text: string }[]; meter: string; leads: string; overload: number; ohms_overload: number; blind: string[]; compliance: number;
}
export interface Place { x_mm: number; y_mm: number; side: string; width_mm: number; height_mm: number; angle_deg: number }
export interface Part {
  name: string; kind: string; package: string; marking: string; place: Place | null;
  pins: { number: string; net: string | null; role: string; name: string }[];
}
export interface Board { name: string; ground: string; entries: string[]; nets: { name: string; rail: boolean; nominal: number | null; named: boolean }[]; parts: Part[] }
export interface Due { test: Test | null; at: number; step: Step; notices: string[] }
export interface Case {
  kind: "case"; name: string; sequence: number; note: string; seed: number; drawn: boolean; by_hand: boolean; thinking: boolean; board: Board; known: KnownFact[];
  near_zero: { red: string; black: string; shows: string }[]; bench: BenchState; diagnosis: Diagnosis | null; advice: Advice | null; due: Due | null; probe: [string, string, string] | null;
}
export interface Live { kind: "live"; text: string; value?: number | null; quantity?: string; red?: string; black?: string }
export interface Trouble { code: string; message: string; hint: string; where: string }
export type Word = Case | Live | RoundWord | ToneWord | SupplyWord | { kind: "trouble"; message: string };
export interface Point { name: string; x: number; y: number; side: string; width: number; height: number; angle?: number; net?: string }
export interface Side { side: string; x: number; y: number; width: number; height: number }
export interface Sight { sides: Side[]; points: Point[]; layers: Layer[]; scale_from: string }

/** The net a point lies on: its own name, or that of the pin's copper. */
export function netOf(board: Board, point: string): string {
  const at = point.lastIndexOf("."), part = board.parts.find((p) => p.name === point.slice(0, at));
  return part?.pins.find((q) => q.number === point.slice(at + 1))?.net ?? point;
}
export function sentence(due: Due, board: Board | null = null, told = false): string {
  const step = due.step, list = step.parts.join(", ");
  const one = step.parts.length === 1;
  switch (step.act) {
    case "read":
      if (step.quantity.startsWith("supply")) return `Read the supply's own display: ${step.quantity.slice(7)}.`;
      return `Probe ${step.red} with red, ${step.black} with black.`;
    case "feed": return step.feed ? `Switch the supply on: ${step.feed.volts}\u00a0V, at most ${step.feed.limit}\u00a0A. Plus on ${step.feed.plus}, minus on ${step.feed.minus}.` : "Feed the board.";
    case "feed off": return "Switch the supply off.";
    case "discharge": return "Discharge the board, then check that it reads near 0 V.";
    case "buzz": return `Buzz ${step.red} and ${step.black}: does it beep?`;
    case "look": return step.parts.length > 3 ? `Look closely at the ${step.parts.length} marked parts.` : `Look closely at ${list}.`;
    case "heat": return step.parts.length ? (step.parts.length > 3 ? "Feel which of the marked parts is warm." : `Feel whether ${list} ${one ? "is" : "are"} warm.`) : "Feel where the board is warm.";
    case "take off": return `Take ${list} off the board.`;
    case "refit": return `Put ${list} back.`;
    case "replace": return `Fit a new ${list}.`;
    case "clean": return `Clean around ${list}.`;
    case "reflow": return `Melt the joints of ${list} again.`;
    case "try": return "Try whether the board works now.";
    case "describe": if (told) return "Is the battery out? Unplug it, or make sure there is none, and say so.";
      if (board && !board.entries.includes(step.red)) return "Battery out. Find where power comes in: its label, and which contact is plus.";
      return `Battery out. Read the label at ${step.red} and find out which contact is plus.`;
    default: return `${step.act} ${list}`;
  }
}

const MODES: Record<string, string> = {
  diode: "Meter on diode mode", ohms: "Meter on ohms", volts: "Meter on DC volts", "supply volts": "On the supply",
  "supply amps": "On the supply", "part ohms": "Meter on ohms, the part by itself", "part diode": "Meter on diode mode, the part by itself",
};
export function mode(step: Step): string {
  return MODES[step.quantity] ?? "";
}

/** How dangerous the due step is, in words; "" where it is not. */
export function danger(due: Due | null): string {
  if (!due) return "";
  if (due.step.act === "feed") return "The next step puts power on the board";
  if (due.step.act === "take off" || due.step.act === "replace" || due.step.act === "reflow" || due.step.act === "refit") return "The next step needs hot air or an iron";
  return "";
}

export function levelWords(p: number): string {
  return p >= 0.9 ? "likely" : p >= 0.5 ? "leading" : p >= 0.1 ? "possible" : "unlikely";
}
export function percent(p: number): string {
  return p > 0.99 ? "over 99 %" : p < 0.01 ? "under 1 %" : `${Math.round(p * 100)} %`;
}

/** Readings the advice before named besides its first, of which none was taken yet; only what the supply's state allows,
 * and what charge may be left on the board. */
export function spareReadings(view: Case): Test[] {
  const fed = view.bench.feed !== null, read = view.known.filter((k) => k.reading && !k.undone).map((k) => [...k.points].sort().join());
  if (!fed && !view.bench.discharged) return [];
  return (view.advice?.tests ?? []).filter((t) => {
    const step = t.steps[0];
    return t.steps.length === 1 && !!step && step.act === "read" && !t.gate && (fed ? step.quantity === "volts" : ["ohms", "diode"].includes(step.quantity)) && !read.includes([step.red, step.black].sort().join());
  }).slice(0, 2);
}
