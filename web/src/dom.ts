// Building elements without markup strings: whatever text comes in stays text.

type Child = Node | string | null | undefined | false;

/** Creates an element. Attributes whose value is null or false are left out. */
export function el<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Record<string, string | number | boolean | null> = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== false) made.setAttribute(name, value === true ? "" : String(value));
  }
  put(made, ...children);
  return made;
}

/** Replaces what an element holds. */
export function put(parent: Element, ...children: Child[]): void {
  parent.replaceChildren(...children.filter((c): c is Node | string => c !== null && c !== undefined && c !== false));
}

/** Sets text only where it differs, so that nothing is laid out anew for nothing. */
export function setText(node: Element, text: string): void {
  if (node.textContent !== text) node.textContent = text;
}

/** The element with this id; a page without it is a fault of the build. */
export function byId(id: string): HTMLElement {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page has no #${id}`);
  return found;
}
