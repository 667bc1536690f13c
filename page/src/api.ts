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

/** Send an order; what it changed arrives over the socket. Returns what was wrong, or null. */
export async function order(name: string, body: object): Promise<Trouble | null> {
  try {
    const answer = await fetch(`/api/${name}`, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });
    return answer.ok ? null : ((await answer.json()) as Trouble);
  } catch {
    return {
      code: "no-server", where: "", message: "Not taken: the program does not answer.",
      hint: "Nothing on record is lost. Start it again with: ohmwright page --resume",
    };
  }
}

export async function ask<T>(name: string): Promise<T | null> {
  try {
    const answer = await fetch(`/api/${name}`);
    return answer.ok ? ((await answer.json()) as T) : null;
  } catch {
    return null;
  }
}
export const sight = (): Promise<Sight | null> => ask<Sight>("sight");
