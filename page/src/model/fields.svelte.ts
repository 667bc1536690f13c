/** Heat pictures and millivolts along copper, while they are worked on. It knows nothing of the network. */
import { percent } from "./case";
import type { Spot } from "./map";

export type Field = "" | "heat" | "millivolts" | "supply";
export type Tool = "trace" | "area" | "hole" | "source" | "black" | "read" | "mark";
export interface ReadPoint { x: number; y: number; shown: string; at: string }
export interface Candidate { name: string; probability: number }
export interface NextPoint { x_mm: number; y_mm: number; bits: number; at: string }
export interface Traced {
  x_mm: number | null; y_mm: number | null; ellipse: (number | null)[]; radius_mm: number | null; cells: number[][]; square_ohms: (number | null)[];
  fits: number; parts: Candidate[]; elsewhere: number; next_points: NextPoint[]; verdict: string; words: string; cautions: string[];
}
export interface Thermal { role: string; frames: number; width: number; height: number; rate: number; coldest: number; hottest: number; png: string }
export interface HotPart { name: string; probability: number; standing: string; words: string }
export interface HotSpot { x_px: number; y_px: number; x_mm: number; y_mm: number; sd_mm: number; kelvin: number; watts: number; parts: HotPart[]; elsewhere: number; lag_deg: number | null }
export interface HeatSeen { spots: HotSpot[]; side: string; off_mm: number; seen_watts: number; fed_watts: number; balance: string; notes: string[]; cautions: string[]; png: string }
export interface Pair { px: Spot; mm: Spot }

type Drawn = Pick<Fields, "tool" | "corners" | "traces" | "widths" | "outline" | "holes" | "source" | "black" | "elsewhere" | "points">;

export const STEPS = [["1 mV", 1e-3], ["0.1 mV", 1e-4], ["10 µV", 1e-5], ["1 µV", 1e-6], ["0.1 µV", 1e-7]] as const;

export class Fields {
  on = $state<Field>("");
  side = $state("top");
  // Millivolts.
  tool = $state<Tool>("area");
  net = $state("");
  corners = $state.raw<Spot[]>([]);
  traces = $state.raw<Spot[][]>([]);
  widths = $state<string[]>([]);
  outline = $state.raw<Spot[]>([]);
  holes = $state.raw<Spot[][]>([]);
  source = $state.raw<Spot | null>(null);
  black = $state.raw<Spot | null>(null);
  elsewhere = $state(false);
  points = $state<ReadPoint[]>([]);
  amps = $state("1");
  step = $state("0.0001");
  ounces = $state("1");
  differenced = $state(false);
  traced = $state.raw<Traced | null>(null);
  /** What was drawn and clicked before each step, newest last, so that any step can be taken back. */
  private past = $state.raw<Drawn[]>([]);
  // Heat.
  thermal = $state.raw<Record<string, Thermal>>({});
  pairs = $state.raw<Pair[]>([]);
  pending = $state.raw<Spot | null>(null);
  watts = $state("");
  hertz = $state("");
  rate = $state("");
  times = $state("");
  seen = $state.raw<HeatSeen | null>(null);

  /** Millivolts along a rail that the advice wants fed: its copper and its current are filled in. */
  along(net: string, amps: number): void { if (this.net !== net) this.clear(); this.net = net; this.amps = String(amps); if (this.on !== "millivolts") this.open("millivolts"); }
  open(which: Field): void {
    this.on = this.on === which ? "" : which;
    this.tool = which === "heat" ? "mark" : this.traces.length || this.outline.length ? "read" : "area";
  }
  get canGoBack(): boolean { return this.past.length > 0; }
  private keep(): void {
    const { tool, corners, traces, widths, outline, holes, source, black, elsewhere, points } = this;
    this.past = [...this.past.slice(-80), { tool, corners, traces, widths: [...widths], outline, holes, source, black, elsewhere, points: [...points] }];
  }
  /** The last step is taken back: a corner, a hole, a clip, a point, or beginning anew. */
  back(): void {
    const last = this.past.at(-1);
    if (!last) return;
    this.past = this.past.slice(0, -1);
    Object.assign(this, last);
    this.traced = null;
  }
  add(at: Spot, pad: string): void { this.keep(); this.points = [...this.points, { ...at, shown: "", at: pad }]; this.traced = null; }
  drop(i: number): void { this.keep(); this.points = this.points.filter((_, k) => k !== i); this.traced = null; }
  /** A click on the board; `pad` where it lies on one. */
  click(at: Spot, pad: string): void {
    if (this.on === "heat") {
      if (this.pending) { this.pairs = [...this.pairs, { px: this.pending, mm: at }]; this.pending = null; this.seen = null; }
      return;
    }
    this.traced = null;
    this.keep();
    switch (this.tool) {
      case "trace": case "area": case "hole": this.corners = [...this.corners, at]; break;
      case "source": this.source = at; this.tool = this.black || this.elsewhere ? "read" : "black"; break;
      case "black": this.black = at; this.elsewhere = false; this.tool = "read"; break;
      default: this.points = [...this.points, { ...at, shown: "", at: pad }];
    }
  }
  /** The corners clicked so far become a trace, the edge, or a hole. */
  finish(): void {
    const c = this.corners;
    this.keep();
    if (this.tool === "trace" && c.length > 1) { this.traces = [...this.traces, c]; this.widths = [...this.widths, "1"]; this.outline = []; this.holes = []; }
    else if (this.tool === "area" && c.length > 2) { this.outline = c; this.traces = []; this.widths = []; }
    else if (this.tool === "hole" && c.length > 2) this.holes = [...this.holes, c];
    this.corners = [];
    if (this.tool !== "trace") this.tool = this.source ? "read" : "source";
    this.traced = null;
  }
  clear(): void {
    if (this.drawn || this.corners.length || this.source || this.points.length) this.keep();
    this.corners = []; this.traces = []; this.widths = []; this.outline = []; this.holes = []; this.source = null; this.black = null; this.points = []; this.traced = null; this.tool = "area";
  }
  get drawn(): boolean { return this.traces.length > 0 || this.outline.length > 2; }
  get read(): { x: number; y: number; millivolts: number; at: string }[] {
    return this.points.flatMap((p) => {
      const mv = figure(p.shown);
      return mv === null ? [] : [{ x: p.x, y: p.y, millivolts: mv, at: p.at }];
    });
  }
  /** When the frames were taken, where that was typed: seconds with blanks between them. */
  get frameTimes(): number[] { return this.times.split(/[\s;]+/).map(figure).filter((t): t is number => t !== null); }
  get sentence(): string {
    if (this.on === "heat") {
      if (!this.thermal["during"]) return "Take the picture with the supply off, then with it on.";
      if (this.pending) return "Now click the same place on the board.";
      if (this.seen) {
        const first = this.seen.spots[0], part = first?.parts[0];
        if (!first) return "Nothing got warm that stands out.";
        return part && part.probability > 0.3 ? `Warmest: ${part.name}, ${percent(part.probability)}.` : "Warmest: a place where the map knows no part.";
      }
      return this.pairs.length < 3 ? `Click a place you know in the thermal picture: ${3 - this.pairs.length} more.` : "See what the feed warmed.";
    }
    switch (this.tool) {
      case "area": return "Click around the copper, then close it.";
      case "trace": return "Click along the trace, then end it.";
      case "hole": return "Click around the hole, then close it.";
      case "source": return "Click where plus is clipped on.";
      case "black": return "Click where black stays.";
      default: if (this.points.some((p) => p.shown.trim() && figure(p.shown) === null)) return "One value is no figure: millivolts, like -1.2.";
        if (this.traced?.parts[0] && this.traced.fits >= 0.01 && this.traced.parts[0].probability > 0.5) return `It leads to ${this.traced.parts[0].name}, ${percent(this.traced.parts[0].probability)}.`;
        return "Click where red is, and type what the meter shows.";
    }
  }
  order(): object {
    const at = (s: Spot): number[] => [s.x, s.y];
    return {
      net: this.net, source: at(this.source ?? { x: 0, y: 0 }), black: this.elsewhere || !this.black ? null : at(this.black), current: figure(this.amps) ?? 0, step: Number(this.step), differenced: this.differenced, points: this.read,
      copper: { traces: this.traces.map((t) => t.map(at)), widths: this.widths.map((w) => figure(w) ?? 1), outline: this.outline.map(at), holes: this.holes.map((h) => h.map(at)), ounces: figure(this.ounces) ?? 1 },
    };
  }
}
/** A typed figure; null where it is none. */
export function figure(text: string): number | null {
  const clean = text.trim().replace(",", ".").replace("−", "-");
  return clean && Number.isFinite(Number(clean)) ? Number(clean) : null;
}
