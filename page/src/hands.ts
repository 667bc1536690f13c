/** The five keys a pedal can send. Kept in this browser; a letter never fires while something is being typed. */
export const HANDS = ["take", "skip", "back", "say", "hold"] as const;
export type Hand = (typeof HANDS)[number];
export type Keys = Record<Hand, string>;
export const HAND_WORDS: Record<Hand, string> = { take: "Take", skip: "Skip", back: "Back", say: "Say again", hold: "Hold" };
const USUAL: Keys = { take: " ", skip: "n", back: "b", say: "r", hold: "h" };

export function storedKeys(): Keys {
  try {
    const found = JSON.parse(localStorage.getItem("ohmwright.keys") ?? "{}") as Partial<Keys>;
    return { ...USUAL, ...found };
  } catch {
    return { ...USUAL };
  }
}

export function storeKeys(keys: Keys): void {
  localStorage.setItem("ohmwright.keys", JSON.stringify(keys));
}

export function handFor(event: KeyboardEvent, keys: Keys): Hand | null {
  if (event.ctrlKey || event.metaKey || event.altKey || isTyping(event.target)) return null;
  return HANDS.find((hand) => keys[hand].toLowerCase() === event.key.toLowerCase()) ?? null;
}

export function isTyping(target: EventTarget | null): boolean {
  return target instanceof HTMLElement && ["INPUT", "TEXTAREA", "SELECT"].includes(target.tagName);
}

export function keyWords(key: string): string {
  return key === " " ? "Space" : key.length === 1 ? key.toUpperCase() : key;
}
