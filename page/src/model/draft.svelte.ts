/** What the hand is at while a map is drawn. It knows nothing of the network; App hands it what it sends with. */
import { choiceOf, PAIR, type KindChoice, type Layer, type Pattern, type Spot } from "./map";

export type Tool = "point" | "lay" | "join" | "scale";

export class Draft {
  on = $state(false);
  tool = $state<Tool>("point");
  choice = $state.raw<KindChoice>(choiceOf("capacitor"));
  package = $state("");
  count = $state(2);
  pattern = $state.raw<Pattern | null>(PAIR);
  first = $state.raw<{ layer: Layer; at: Spot } | null>(null);
  hover = $state.raw<Spot | null>(null);
  /** The pad the panel tells of, as PART.PIN. */
  pad = $state("");
  /** What further pads are joined to: a pad, or ground. */
  anchor = $state("");
  toGround = $state(false);
  /** Whether what is clicked next stays silent against the anchor. */
  silent = $state(false);
  /** Whether an eye followed the copper instead of a tester. */
  seen = $state(false);
  /** Whether the next two clicks ask which package it is, and what fits them, the best first. */
  guessing = $state(false);
  guesses = $state.raw<{ body: Record<string, unknown>; fit: { package: string; count: number }[] } | null>(null);
  span = $state.raw<{ layer: string; a: Spot; b: Spot } | null>(null);

  /** Parts that were clicked and are still being held against the picture. */
  waiting = $state.raw<{ layer: Layer; pattern: Pattern; first: Spot; far: Spot }[]>([]);

  get part(): string {
    return this.pad.slice(0, this.pad.lastIndexOf("."));
  }
  lay(kind: string): void {
    this.choice = choiceOf(kind);
    this.package = this.choice.package;
    this.count = this.choice.count;
    this.pattern = this.package ? null : PAIR;
    this.start("lay");
  }
  join(ground: boolean): void {
    this.start("join");
    this.toGround = ground;
  }
  start(tool: Tool): void {
    this.tool = tool;
    this.first = null; this.anchor = ""; this.toGround = false; this.span = null; this.silent = false; this.seen = false; this.guessing = false; this.guesses = null;
  }
  guess(): void { this.guessing = !this.guessing; this.guesses = null; this.first = null; }
  /** One step back out of whatever is begun; false where nothing is. */
  leave(): boolean {
    if (this.guesses) { this.guesses = null; return true; }
    if (this.first || this.anchor || this.span) { this.first = null; this.anchor = ""; this.span = null; return true; }
    if (this.tool !== "point") { this.start("point"); return true; }
    if (this.pad) { this.pad = ""; return true; }
    return false;
  }
  /** What the hand should do now, in one sentence. */
  get sentence(): string {
    const far = this.package ? `pin ${this.pattern?.far ?? ""}` : "the other pad";
    switch (this.tool) {
      case "lay": if (this.guesses) return this.guesses.fit.length ? "Which of these is it?" : "No package I know has pads so far apart.";
        if (this.guessing) return this.first ? "Now click the pin farthest from it." : "Click pin 1, then the pin farthest from it.";
        return this.first ? `Now click ${far}.` : `Click ${this.choice.first} of the ${this.choice.words.toLowerCase()}${this.package ? `, then ${far}` : ", then the other"}.`;
      case "join": return this.silent ? (this.anchor ? `Click every pad that stays silent against ${this.anchor}.` : this.toGround ? "Click every pad that is not ground." : "Click a pad, then every pad that stays silent against it.")
        : this.seen && !this.toGround ? (this.anchor ? `Click every pad that the copper joins to ${this.anchor}.` : "Click a pad, then every pad you see joined to it.")
        : this.toGround ? "Click every pad that is ground." : this.anchor ? `Click every pad that buzzes with ${this.anchor}.` : "Click a pad, then every pad that buzzes with it.";
      case "scale": return this.span ? "How far apart are these two on the board?" : this.first ? "Click the other end." : "Click one end of a length you know.";
      default: return this.pad ? `${this.pad} is chosen.` : "Choose a kind, then click its pads on the picture.";
    }
  }
}
