/** Where the hand is in the part book. It knows nothing of the network. */
import type { Around, Paper } from "./book";

export type Leaf = "around" | "side" | "find" | "sheet" | "type" | "replace";
export const LEAVES: [Leaf, string][] = [["around", "Around it"], ["side", "Side by side"], ["find", "Find it"], ["sheet", "Datasheet"], ["type", "Type, paste"], ["replace", "Replace"]];

/** One line of a pin table that somebody has to look over. */
export class Line {
  pins = $state(""); name = $state(""); kind = $state(""); words = $state("");
  sure = $state(false); out = $state(false);
  constructor(pins: string[], name: string, kind = "", words = "", sure = false, readonly at: { page: number; box: { x0: number; y0: number; x1: number; y1: number } } | null = null) {
    this.pins = pins.join(", "); this.name = name; this.kind = kind; this.words = words; this.sure = sure;
  }
  get numbers(): string[] {
    return this.pins.split(/[\s,;]+/).filter(Boolean);
  }
}

export class Book {
  on = $state(false);
  leaf = $state<Leaf>("around");
  /** The chip the book is open at, and what was tapped last on the board: a pad. */
  chip = $state("");
  pad = $state("");
  /** Names of parts, pads and nets that light on the board. */
  lit = $state.raw<string[]>([]);
  around = $state.raw<Around | null>(null);
  paper = $state.raw<Paper | null>(null);
  page = $state(1);
  /** What is being looked over, and where it is from. */
  lines = $state<Line[]>([]);
  number = $state("");
  source = $state("");
  package = $state("");

  get part(): string {
    return this.pad.slice(0, this.pad.lastIndexOf("."));
  }
  fill(lines: Line[], number: string, source: string, packageName = ""): void {
    this.lines = lines; this.source = source; this.package = packageName;
    if (number) this.number = number;
  }
}
