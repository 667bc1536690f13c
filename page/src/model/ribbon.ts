/** Where values lie on the outcome ribbon. No DOM here: numbers in, numbers out. */
import type { Hump } from "./case";

export interface Scale { unit: string; at: (value: number) => number; ticks: { at: number; words: string }[]; nearZero: number; end: number }

/** The line from 0 to 1 for a quantity; `limit` is where the meter shows OL. */
export function scaleFor(quantity: string, humps: Hump[], limit: number): Scale {
  return quantity.includes("ohms") ? ohmScale(limit) : linearScale(quantity, humps, limit);
}

function ohmScale(limit: number): Scale {
  const low = Math.log10(0.03), high = Math.log10(Math.max(limit, 1e3));
  const at = (ohms: number): number => clamp((Math.log10(Math.max(ohms, 0.03)) - low) / (high - low));
  const ticks = [0.1, 1, 10, 100, 1e3, 1e4, 1e5, 1e6, 1e7].filter((v) => v < limit).map((v) => ({ at: at(v), words: shortOhms(v) }));
  return { unit: "Ω", at, ticks, nearZero: 0, end: limit };
}

function linearScale(quantity: string, humps: Hump[], limit: number): Scale {
  const amps = quantity.includes("amps");
  const widest = Math.max(...humps.filter((h) => h.overload < 0.5).map((h) => h.high), amps ? 0.1 : 0.6);
  const end = quantity.includes("diode") ? Math.min(limit, Math.max(1, widest * 1.25)) : widest * 1.25;
  const stride = [0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10].find((s) => end / s <= 7) ?? end / 5;
  const at = (value: number): number => clamp(value / end);
  const all = Array.from({ length: 8 }, (_, i) => i * stride);
  const ticks = all.filter((v) => v <= end + 1e-9).map((v) => ({ at: at(v), words: String(Number(v.toFixed(3))) }));
  return { unit: amps ? "A" : "V", at, ticks, nearZero: quantity.includes("diode") ? 0.01 : 0, end };
}

/** Heights of a soft hump at `n` places of the line; the 90 % interval is 3.29 standard deviations wide. */
export function humpShape(hump: Hump, scale: Scale, n = 120): number[] {
  const low = scale.at(hump.low), high = scale.at(hump.high);
  const middle = (low + high) / 2, sd = Math.max((high - low) / 3.29, 0.008);
  const tall = (0.35 + 0.65 * Math.sqrt(hump.probability)) * (1 - hump.overload);
  return Array.from({ length: n + 1 }, (_, i) => tall * Math.exp(-0.5 * ((i / n - middle) / sd) ** 2));
}

/** The hump that a value fits best, or null where it fits none. */
export function fitting(value: number, overload: boolean, humps: Hump[]): Hump | null {
  const inside = humps.filter((h) => (overload ? h.overload > 0.5 : h.overload < 0.5 && value >= h.low && value <= h.high));
  return inside.sort((a, b) => b.probability - a.probability)[0] ?? null;
}

function shortOhms(v: number): string {
  return v >= 1e6 ? `${v / 1e6}M` : v >= 1e3 ? `${v / 1e3}k` : String(v);
}

function clamp(x: number): number {
  return Math.min(1, Math.max(0, x));
}
