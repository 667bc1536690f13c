/** Pictures on their way onto the map: whose side is asked, what is taken in, and where each was found to lie. */
import { look, upload, type Answer } from "../api";
import type { Trouble } from "./case";

export type Stage = "waits" | "comes" | "is sought" | "lies" | "astray" | "refused";
export interface Coming { id: number; file: File; side: string; key: string; stage: Stage; words: string; hint: string }
interface Sought { found: boolean; words: string; hint: string; gone?: boolean }
/** How often a picture is sought anew because the others were moved meanwhile. */
const TRIES = 3;

export class Incoming {
  /** Files of which nobody has said yet what side they show; the first is asked about. */
  asked = $state.raw<File[]>([]);
  list = $state.raw<Coming[]>([]);
  #count = 0;
  #turn: Promise<unknown> = Promise.resolve();
  /** `edit` gives an order in its turn with the other edits of the map. */
  constructor(private edit: (name: string, body: object) => Promise<Answer>, private taken: (answer: Answer) => void) {}

  get due(): File | null { return this.asked[0] ?? null; }
  get sentence(): string {
    const left = this.asked.length;
    return left ? `Which side does ${this.asked[0]!.name} show?` : "";
  }
  /** What came in with no word of its side. */
  ask(files: File[]): void { this.asked = [...this.asked, ...files]; }
  /** The answer for the file that is asked about, or for all that wait; an empty side leaves it out. */
  answer(side: string, all = false): void {
    const [told, rest] = all ? [this.asked, []] : [this.asked.slice(0, 1), this.asked.slice(1)];
    this.asked = rest;
    if (side) this.take(told, side);
  }
  /** Take pictures of one side in, one after the other; seeking follows once they are on the map. */
  take(files: File[], side: string): void {
    for (const file of files) {
      const one: Coming = { id: ++this.#count, file, side, key: "", stage: "waits", words: "", hint: "" };
      this.list = [...this.list.filter((old) => !["lies", "refused"].includes(old.stage)), one];
      this.#turn = this.#turn.then(() => this.#taken(one)).then((key) => { if (key) void this.#sought(one.id, key, side); });
    }
  }
  drop(id: number): void { this.list = this.list.filter((one) => one.id !== id); }
  #set(id: number, more: Partial<Coming>): void { this.list = this.list.map((one) => (one.id === id ? { ...one, ...more } : one)); }
  async #taken(one: Coming): Promise<string> {
    this.#set(one.id, { stage: "comes" });
    const held = await upload(one.file), key = held.key ?? "";
    const answer = held.trouble ? held : await this.edit("map/picture", { key, side: one.side, name: one.file.name.slice(-80) });
    this.taken(answer);
    if (answer.trouble) { this.#set(one.id, { stage: "refused", words: answer.trouble.message, hint: answer.trouble.hint }); return ""; }
    if (answer.first) { this.drop(one.id); return ""; } // it makes the map's frame: there is nothing to lay it on
    this.#set(one.id, { key, stage: "is sought" });
    return key;
  }
  #seeking: Promise<unknown> = Promise.resolve();
  /** One is sought at a time; the hand goes on meanwhile. */
  #sought(id: number, key: string, side: string): Promise<unknown> {
    return (this.#seeking = this.#seeking.then(() => this.#seek(id, key, side)));
  }
  async #seek(id: number, key: string, side: string): Promise<void> {
    for (let n = 0; n < TRIES; n++) {
      const said: Sought | Trouble = await look<Sought>("map/seek", { layer: key, side });
      if (!("found" in said)) { this.#set(id, { stage: "astray", words: said.message, hint: said.hint }); return; }
      if (said.gone) { this.drop(id); return; } // straightened or taken away while it waited its turn
      if (!said.found) { this.#set(id, { stage: "astray", words: said.words, hint: said.hint }); return; }
      const answer = await this.edit("map/settle", { layer: key, side });
      if (answer.trouble?.code === "case-conflict") continue; // something else went on record just then
      if (answer.trouble) { this.#set(id, { stage: "astray", words: answer.trouble.message, hint: answer.trouble.hint }); return; }
      if (answer.settled) { this.#set(id, { stage: "lies", words: said.words }); return; }
    }
    this.#set(id, { stage: "astray", words: "The other pictures were moved while this one was being sought.", hint: "press “Find where it lies” under Pictures" });
  }
}
