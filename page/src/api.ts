/** The one place that talks to the server. */
import type { Sight, Trouble, Word } from "./model/case";

export interface Line { probe: (quantity: string, red: string, black: string) => void; close: () => void }

/** Keep one socket open for ever; after a loss the whole case comes again. */
export function listen(hear: (word: Word) => void, tell: (open: boolean) => void): Line {
  let socket: WebSocket | null = null, wait = 250, closed = false, timer = 0;
  const open = (): void => {
    socket = new WebSocket(`ws://${location.host}/api/words`);
    socket.onopen = () => { wait = 250; tell(true); };
    socket.onmessage = (event) => hear(JSON.parse(String(event.data)) as Word);
    socket.onclose = () => {
      if (closed) return;
      tell(false);
      timer = window.setTimeout(open, wait);
      wait = Math.min(wait * 2, 2000);
    };
  };
  open();
  return {
    probe: (quantity, red, black) => { if (socket?.readyState === WebSocket.OPEN) socket.send(JSON.stringify({ quantity, red, black })); },
    close: () => { closed = true; clearTimeout(timer); socket?.close(); },
  };
}

const SILENT: Trouble = {
  code: "no-server", where: "", message: "Not taken: the program does not answer.",
  hint: "Nothing on record is lost. Start it again with: ohmwright page --resume",
};
/** What came of an order: what was wrong, or null; and the last event on record after it, or 0. */
export interface Answer { trouble: Trouble | null; sequence: number; notes?: string[]; key?: string; first?: boolean; settled?: boolean }

/** Send an order; what it changed arrives over the socket. */
export async function order(name: string, body: object): Promise<Answer> {
  return answered(fetch(`/api/${name}`, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) }));
}
/** Hand a picture over to be held; an order in its turn lays it under the map. */
export async function upload(file: File): Promise<Answer> {
  const type = file.type.startsWith("image/") ? file.type : "image/unknown";
  return answered(fetch("/api/picture?hold=true", { method: "POST", headers: { "content-type": type }, body: file }));
}
async function answered(asked: Promise<Response>): Promise<Answer> {
  try {
    const answer = await asked, said: unknown = await answer.json();
    const told = said as Partial<Answer>;
    return answer.ok ? { trouble: null, sequence: told.sequence ?? 0, notes: told.notes ?? [], key: told.key ?? "", first: told.first ?? false, settled: told.settled ?? false } : { trouble: said as Trouble, sequence: 0 };
  } catch {
    return { trouble: SILENT, sequence: 0 };
  }
}
/** Look something over that does not go on record yet. */
export async function look<T>(name: string, body: object): Promise<T | Trouble> {
  try {
    const answer = await fetch(`/api/${name}`, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });
    return (await answer.json()) as T | Trouble;
  } catch {
    return SILENT;
  }
}
/** A picture of the meter's display, or a word about it, for this machine's own server. */
export async function eye<T>(name: string, body: Blob | object): Promise<T | null> {
  const picture = body instanceof Blob;
  try {
    const answer = await fetch(`/api/eye/${name}`, { method: "POST", headers: { "content-type": picture ? "image/jpeg" : "application/json" }, body: picture ? body : JSON.stringify(body) });
    return answer.ok ? ((await answer.json()) as T) : null;
  } catch {
    return null;
  }
}

/** Ask; null where there is no answer, or where it is a refusal whose words are not wanted. */
export async function ask<T>(name: string, words = false): Promise<T | null> {
  try {
    const answer = await fetch(`/api/${name}`);
    return answer.ok || words ? ((await answer.json()) as T) : null;
  } catch {
    return null;
  }
}
export const sight = (): Promise<Sight | null> => ask<Sight>("sight");
/** Hand a file over whose kind the server finds out itself. */
export async function handOver<T>(name: string, file: File): Promise<T | Trouble> {
  try {
    const answer = await fetch(`/api/${name}`, { method: "POST", headers: { "content-type": "application/octet-stream" }, body: file });
    return (await answer.json()) as T | Trouble;
  } catch {
    return SILENT;
  }
}
/** Hand a datasheet over; what it tells comes back. */
export async function paperUp<T>(file: File): Promise<T | Trouble> {
  try {
    const answer = await fetch(`/api/book/paper?name=${encodeURIComponent(file.name.slice(-100))}`, { method: "POST", headers: { "content-type": "application/pdf" }, body: file });
    return (await answer.json()) as T | Trouble;
  } catch {
    return SILENT;
  }
}

/** The practice meter's display as a camera would see it. */
export async function drawnDisplay(): Promise<Blob | null> {
  try {
    const answer = await fetch("/api/eye/drawn");
    return answer.ok ? await answer.blob() : null;
  } catch { return null; }
}
