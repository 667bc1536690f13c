/** The supply that the program itself switches: how it stands, its plan, its traces. It knows nothing of the network. */
export interface Rule { name: string; now: number | null; most: number; unit: string; share: number }
export interface SupplyWord {
  kind: "supply"; address: string; family: string; practice: boolean; on: boolean; stopping: boolean; feed: { plus: string; minus: string; volts: number; limit: number } | null;
  rules: Rule[]; last: { at: number; volts: number; amps: number } | null; energy: number; samples: [number, number, number][]; sweep: number; ended: string; tripped: boolean; unknown: boolean; knee: string;
}
export interface PathSeen { points: [number, number][]; leads: number; slope: { best: number; junction: boolean } | null; finder: { method: string; why: string } | null; words: string }
export type Plan = Record<string, string[]> & { charge: string; plus: string; minus: string; settings: [number, number, number][]; path: PathSeen | null };
/** What finds the place of a path, as a thing to do. */
export const METHODS: Record<string, string> = { heat: "Heat finds it", millivolts: "Millivolts find it", either: "Heat first, then millivolts", reading: "No plain short" };
export interface Listed { sequence: number; key: string; words: string; good: boolean; seconds: number; peak: number }
export interface Beside { sequence: number; name: string; good: boolean; words: string; alike: number; parts_at: number | null; times: number[]; amps: number[] }
export interface Shown {
  sequence: number; key: string; words: string; good: boolean; times: number[]; amps: number[]; volts: number[]; levels: { start: number; end: number; amps: number }[];
  period: number | null; drift: number | null; watts: number; at_limit: string; stages: { name: string; share: number }[]; notes: string[]; beside: Beside[];
}
export interface FoundThing { address: string; identity: string; family: string; kind: string; trouble: string }
export type Leaf = "feed" | "traces" | "sweep" | "join";

export class Supply {
  leaf = $state<Leaf>("feed");
  now = $state.raw<SupplyWord | null>(null);
  net = $state("");
  volts = $state("");
  step = $state(1);
  leads = $state("");
  seconds = $state("20");
  armed = $state(false);
  get on(): boolean { return this.now?.on ?? false; }
  /** From a step of the advice: the same rail and volts. */
  open(net: string, volts: number): void { this.leaf = "feed"; this.net = net; this.volts = volts ? String(volts) : ""; this.step = 1; this.armed = false; }
}
/** A figure with its unit, short enough to be read from a metre. */
export function told(value: number | null | undefined, unit: string): string {
  if (value === null || value === undefined) return "–";
  const size = Math.abs(value);
  if (size >= 1 || size === 0 || unit === "°C") return `${value.toFixed(size >= 100 ? 0 : size >= 10 ? 1 : 2)} ${unit}`;
  if (size >= 1e-3) return `${(value * 1e3).toFixed(size >= 0.1 ? 0 : 1)} m${unit}`;
  return `${(value * 1e6).toFixed(0)} µ${unit}`;
}
/** Round marks from 0 up to at least `top`. */
export function marks(top: number): number[] {
  if (!(top > 0)) return [0, 1];
  const raw = top / 4, ten = 10 ** Math.floor(Math.log10(raw)), step = [1, 2, 2.5, 5, 10].map((k) => k * ten).find((s) => s >= raw) ?? raw;
  return Array.from({ length: Math.ceil(top / step - 1e-9) + 1 }, (_, k) => k * step);
}
