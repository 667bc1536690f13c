/** Several pictures of one board: which are seen, how they are laid on each other, and what two of them show differently. */
import { ask, look, order } from "../api";
import type { Trouble } from "./case";
import type { Layer, Spot } from "./map";

export interface Change { x_mm: number; y_mm: number; width_mm: number; height_mm: number; strength: number; parts: string[] }
export interface Guess { package: string; count: number; score: number }
/** A part that may lie the wrong way round, and whether that movement brings it right. [deg] counter-clockwise from the top */
export interface Turned { part: string; words: string; turn: string; mirror: boolean; turn_deg: number; moves: boolean }
interface Pair { other: string; there: Spot; here: Spot }

export class Pictures {
  /** How strongly a picture is seen, 0 to 1; by key and side. */
  shade = $state.raw<Record<string, number>>({});
  /** The one that is worked on; the top one where none is chosen. */
  chosen = $state("");
  changes = $state.raw<{ side: string; places: Change[] } | null>(null);
  at = $state(-1);
  /** While the same places are marked in two pictures: the picture that is laid, what it is laid on, and the places. */
  laying = $state.raw<{ layer: Layer; onto: Layer; pairs: Pair[]; half: Spot | null } | null>(null);
  row = $state.raw<{ body: Record<string, unknown>; words: string } | null>(null);
  wanted = $state(4);
  layers = $state.raw<Layer[]>([]);
  scale = $state("");
  /** The part that was laid last, to lay more alike. */
  last = $state.raw<{ body: Record<string, unknown>; words: string } | null>(null);
  notes = $state.raw<string[]>([]);
  /** Parts that may lie the wrong way round. */
  turned = $state.raw<Turned[]>([]);
  busy = $state("");
  /** The side the picture should turn to. */
  wish = $state("");

  /** Several like the last one, evenly spaced. */
  more(): void { this.row = this.last; }
  static id(layer: Layer): string { return `${layer.key} ${layer.side}`; }
  seen(layer: Layer): number {
    if (this.laying) { const due = this.laying.half ? this.laying.layer : this.laying.onto; return Pictures.id(due) === Pictures.id(layer) ? 1 : 0; }
    return this.shade[Pictures.id(layer)] ?? (this.loose(layer) ? 0 : 1);
  }
  /** One that lies anyhow would only cover what is drawn on: it is out of sight until somebody asks for it. */
  loose(layer: Layer): boolean {
    return !layer.how && this.layers.some((l) => l.side === layer.side && l.key !== layer.key && (l.how || l === this.layers[0]));
  }
  /** What is drawn, the chosen one last, so on top. */
  arranged(layers: Layer[]): Layer[] {
    const top = layers.find((l) => Pictures.id(l) === this.chosen);
    return (top ? [...layers.filter((l) => l !== top), top] : layers).filter((l) => this.seen(l) > 0.01);
  }
  set(layer: Layer, much: number): void { this.shade = { ...this.shade, [Pictures.id(layer)]: much }; }
  begin(layer: Layer, onto: Layer): void { this.laying = { layer, onto, pairs: [], half: null }; this.wish = onto.side; }
  mark(layer: Layer, at: Spot): void {
    const now = this.laying;
    if (!now) return;
    if (!now.half) { if (layer.key === now.onto.key) { this.laying = { ...now, half: at }; this.wish = now.layer.side; } return; }
    this.laying = { ...now, half: null, pairs: [...now.pairs, { other: now.onto.key, there: now.half, here: at }] };
    this.wish = now.onto.side;
  }
  /** Take the last mark away; false where there is none. */
  unmark(): boolean {
    const now = this.laying;
    if (!now) return false;
    if (now.half) this.laying = { ...now, half: null };
    else if (now.pairs.length) this.laying = { ...now, pairs: now.pairs.slice(0, -1) };
    else this.laying = null;
    this.wish = this.laying?.onto.side ?? "";
    return true;
  }
  get sentence(): string {
    const now = this.laying;
    if (this.row) return `Click pin 1 of the last ${this.row.words}.`;
    if (!now) return "";
    const n = now.pairs.length + 1;
    return now.half ? `Now click the same place in ${now.layer.name || "the other picture"}.` : `Click place ${n} in ${now.onto.name || "the first picture"}: something sharp, near a corner.`;
  }
  pairsBody(): object {
    const now = this.laying!;
    return { layer: now.layer.key, side: now.layer.side, pairs: now.pairs.map((p) => ({ other: p.other, there: [p.there.x, p.there.y], here: [p.here.x, p.here.y] })) };
  }
  async refresh(): Promise<void> {
    this.turned = (await ask<{ doubts: Turned[] }>("map/turned"))?.doubts ?? [];
  }
  async compare(first: Layer, second: Layer): Promise<Trouble | null> {
    this.busy = "Comparing the two pictures…";
    const got = await look<{ places: Change[] }>("map/compare", { first: first.key, second: second.key });
    this.busy = "";
    if (!("places" in got)) { this.changes = null; return got; }
    this.changes = { side: first.side, places: got.places };
    this.at = -1;
    return null;
  }
  async lay(body: object, seen: number, name = "map/lay"): Promise<{ trouble: Trouble | null; sequence: number }> {
    const answer = await order(name, { seen, ...body });
    this.notes = answer.notes ?? [];
    return answer;
  }
}
