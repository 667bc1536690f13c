/** Nets as far as they are known, as the server tells them; and a board file that is being laid on the picture. */
import { ask } from "../api";
import type { Layer, Spot } from "./map";

export interface Mate { pad: string; entries: string[]; through: string[] }
export interface Join { pad: string; other: string; net: string; chance: number; bits: number; lies: number; worth: number; why: string }
export interface Story {
  pad: string; net: string | null; words: string; copper: Mate[]; dc: Mate[]; silent: string[]; readings: [string, string][]; unknown: string[]; next: Join[];
}
export interface Doubt { words: string; entries: number[]; cures: number[]; pads: [string, string]; fault: boolean }
export interface Field { side: string; x_mm: number; y_mm: number; width_mm: number; height_mm: number; magnification: number }
export interface Agreement { words: string; belongs: number; agree: number[]; disagree: number[] }
export interface NetsView {
  names: Record<string, string>; doubts: Doubt[]; next: Join[]; ground: [string, string]; called_ground: string[]; agreement: Agreement | null; fields: Field[];
  looks: { parts: string[]; finding: string }[];
}
export interface Offer { name: string; kind: string; parts: number; nets: number; pads: number; mark: [string, string][]; drawn: number; notes: string[]; same: number; other: number; which: string[] }
export type Leaf = "" | "nets" | "look" | "file" | "pictures";

const pair = (join: Join): string => `${join.pad} ${join.other}`;

export class Nets {
  leaf = $state<Leaf>("");
  view = $state.raw<NetsView | null>(null);
  story = $state.raw<Story | null>(null);
  /** Two points that are asked about now: they light on the picture. */
  pair = $state.raw<[string, string] | null>(null);
  passed = $state.raw<string[]>([]);
  offer = $state.raw<Offer | null>(null);
  marks = $state.raw<{ pad: string; layer: string; at: Spot }[]>([]);
  fit = $state.raw<{ fits: boolean; words: string } | null>(null);
  marking = $state("");
  /** The part of the board in sight, as the picture last said. [mm] */
  sight = $state.raw<{ side: string; x: number; y: number; width: number; height: number } | null>(null);

  /** The pair that was answered and whose entry has not come back yet. */
  #answered = $state("");
  /** The pair that was asked about last: it stays until it is answered, whatever else turns out to be worth more. */
  #held = $state("");
  #sequence = 0;
  get due(): Join | null {
    const open = (this.view?.next ?? []).filter((j) => !this.passed.includes(pair(j)));
    // After an answer it stands there still: what comes next is known only with the answer on record.
    return open.find((j) => pair(j) === this.#answered) ?? open.find((j) => pair(j) === this.#held) ?? open[0] ?? null;
  }
  #hold(): void { const due = this.due; this.#held = due ? pair(due) : ""; }
  /** The answer to what is asked now goes on record, once. */
  async answer(beeps: boolean, send: (name: string, body: object) => Promise<boolean>): Promise<void> {
    const due = this.due;
    if (!due || this.#answered === pair(due)) return;
    this.#answered = pair(due);
    if (!(await send("map/heard", { a: due.pad, b: due.other, beeps }))) this.#answered = "";
  }
  pass(): void {
    const due = this.due;
    if (due) { this.passed = [...this.passed, pair(due)]; this.#hold(); }
  }
  /** A thought that comes in late re-orders what is worth asking; the hand is on its way already and finds its question. */
  #came(view: NetsView, sequence: number): void {
    const was = this.due, same = sequence === this.#sequence;
    this.view = was && same && !view.next.some((j) => pair(j) === pair(was)) ? { ...view, next: [was, ...view.next] } : view;
    if (!same) this.#answered = "";
    this.#sequence = sequence;
    this.#hold();
  }
  #asked = "";
  async refresh(pad: string, sequence: number, news: string): Promise<void> {
    const key = `${pad} ${sequence} ${news}`;
    if (key === this.#asked) return;
    this.#asked = key;
    const [view, story] = await Promise.all([ask<NetsView>("map/nets"), pad ? ask<Story>(`map/pad?pad=${encodeURIComponent(pad)}`) : Promise.resolve(null)]);
    if (key !== this.#asked) return; // something newer was asked meanwhile
    if (view) this.#came(view, sequence);
    this.story = story;
  }
  words(net: string | null): string {
    return net === null ? "no net yet" : (this.view?.names[net] ?? net);
  }
  open(leaf: Leaf): void {
    this.leaf = this.leaf === leaf ? "" : leaf;
    this.marking = ""; this.fit = null;
  }
  marked(layer: Layer, at: Spot): void {
    this.marks = [...this.marks.filter((m) => m.pad !== this.marking), { pad: this.marking, layer: layer.key, at }];
    this.marking = this.offer?.mark.find(([pad]) => !this.marks.some((m) => m.pad === pad))?.[0] ?? "";
  }
}
