/** The fields of a lens over the side in sight: which have been looked at how closely, and which is looked at now. */
import { ask } from "../api";

export type Box = [number, number, number, number];
export interface LensField { name: string; box: Box; seen: number }
interface SideFields { side: string; magnification: number; fields: LensField[]; counts: [number, number][] }
export const SIZES = [1, 5, 10, 20, 40];

export class Lens {
  magnification = $state(10);
  view = $state.raw<SideFields | null>(null);
  /** The name of the field under the lens; empty where none is chosen. */
  at = $state("");
  /** A part of the board that the picture should show as large as it can. [mm] */
  wish = $state.raw<Box | null>(null);
  #asked = "";
  #wanted = false;

  get now(): LensField | null { return this.view?.fields.find((one) => one.name === this.at) ?? null; }
  seen(one: LensField): boolean { return one.seen >= this.magnification; }
  get done(): number { return (this.view?.fields ?? []).filter((one) => this.seen(one)).length; }
  get all(): number { return this.view?.fields.length ?? 0; }

  /** Ask anew where the side, the lens or the case is another than it was. */
  async refresh(side: string, news: string): Promise<void> {
    const key = `${side} ${this.magnification} ${news}`;
    if (key === this.#asked) return;
    this.#asked = key;
    const got = await ask<SideFields>(`map/fields?side=${side}&magnification=${this.magnification}`);
    if (key !== this.#asked || !got) return;
    if (this.view && (this.view.side !== got.side || this.view.magnification !== got.magnification)) this.at = "";
    this.view = got;
    if (this.#wanted) { this.#wanted = false; this.next(); }
  }
  get sentence(): string {
    if (!this.all) return "Add a picture of this side first.";
    if (this.done === this.all) return `Every field of the ${this.view!.side === "bottom" ? "underside" : "upper side"} has been looked at.`;
    return this.now ? `Look at field ${this.now.name}${this.seen(this.now) ? ", seen already" : ""}.` : "Go to the first field.";
  }
  closer(): void { this.magnification = SIZES[(SIZES.indexOf(this.magnification) + 1) % SIZES.length]!; }
  go(one: LensField): void { this.at = one.name; this.wish = one.box; }
  /** The next field in order that this lens has not seen yet, from the one that is looked at; null where all are. */
  next(): LensField | null {
    this.#wanted = this.view?.magnification !== this.magnification; // they are on their way
    if (this.#wanted) return null;
    const all = this.view?.fields ?? [], from = all.findIndex((one) => one.name === this.at);
    for (let n = 1; n <= all.length; n++) {
      const one = all[(from + n + all.length) % all.length]!;
      if (!this.seen(one) && (one.name !== this.at || all.length === 1)) { this.go(one); return one; }
    }
    return null;
  }
  /** The field beside this one, as the eye sees the side: an underside is mirrored. */
  step(across: number, down: number): void {
    const now = this.now;
    if (!now) { this.next(); return; }
    const way = this.view!.side === "bottom" ? -across : across, [x, y, w, h] = now.box;
    const to = this.view!.fields.find((one) => Math.abs(one.box[0] - x - way * w) < w / 3 && Math.abs(one.box[1] - y - down * h) < h / 3);
    if (to) this.go(to);
  }
}
