/** Finding a part, a pad or a net of the board by its name. No DOM here. */
import type { Board } from "./case";

export interface Hit { name: string; words: string; what: "part" | "pad" | "net" }
/** More than these nobody reads through; one letter more says which. */
const MOST = 8;

/** What the typed letters may mean, best first: the whole name, then names that begin so, then names that hold them. */
export function hits(board: Board, typed: string): Hit[] {
  const wanted = typed.trim().toLowerCase();
  if (!wanted) return [];
  const all: Hit[] = [
    ...board.parts.map((p): Hit => ({ name: p.name, words: [p.kind === "ic" ? "chip" : p.kind, p.marking].filter(Boolean).join(", "), what: "part" })),
    ...board.nets.map((n): Hit => ({ name: n.name, words: n.nominal === null ? "net" : `net, ${n.nominal} V`, what: "net" })),
    ...(wanted.includes(".") ? board.parts.filter((p) => wanted.startsWith(`${p.name.toLowerCase()}.`)).flatMap((p) => p.pins.map((q): Hit => ({ name: `${p.name}.${q.number}`, words: q.net ?? "on no known net", what: "pad" }))) : []),
  ];
  const rank = (hit: Hit): number => { const name = hit.name.toLowerCase(); return name === wanted ? 0 : name.startsWith(wanted) ? 1 : name.includes(wanted) ? 2 : 3; };
  return all.map((hit) => ({ hit, at: rank(hit) })).filter((one) => one.at < 3)
    .sort((a, b) => a.at - b.at || a.hit.name.length - b.hit.name.length || a.hit.name.localeCompare(b.hit.name, "en", { numeric: true })).slice(0, MOST).map((one) => one.hit);
}
