// Light, dark or as the system says; and the tokens of styles/tokens.css for those who
// draw on a canvas.

type Choice = "system" | "light" | "dark";
const ORDER: Choice[] = ["system", "light", "dark"];
const KEY = "soakline.theme";

export class Theme {
  private choice: Choice = "system";
  private readonly listeners: (() => void)[] = [];
  private cache = new Map<string, string>();

  constructor() {
    const kept = recall(KEY);
    if (kept === "light" || kept === "dark") this.choice = kept;
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.apply());
    this.apply();
  }

  on(call: () => void): void {
    this.listeners.push(call);
  }

  get title(): string {
    return { system: "as the system", light: "light", dark: "dark" }[this.choice];
  }

  next(): void {
    this.choice = ORDER[(ORDER.indexOf(this.choice) + 1) % ORDER.length]!;
    remember(KEY, this.choice);
    this.apply();
  }

  /** One theme for this page alone, whatever was chosen for others. */
  only(choice: "light" | "dark"): void {
    this.choice = choice;
    this.apply();
  }

  private apply(): void {
    document.documentElement.dataset["theme"] = this.choice;
    this.cache.clear();
    for (const call of this.listeners) call();
  }

  /** The value of a design token, "--ink" for instance. */
  token(name: string): string {
    let value = this.cache.get(name);
    if (value === undefined) {
      value = getComputedStyle(document.documentElement).getPropertyValue(name).trim();
      this.cache.set(name, value);
    }
    return value;
  }
}

/** Small choices are kept by the browser; where it keeps nothing, nothing breaks. */
export function recall(key: string): string | null {
  try {
    return localStorage.getItem(key);
  } catch {
    return null;
  }
}

export function remember(key: string, value: string): void {
  try {
    localStorage.setItem(key, value);
  } catch {
    // Storage is switched off: the choice lasts as long as the page.
  }
}
