// A canvas that fits its box at the screen's resolution.

export class Surface {
  readonly element: HTMLCanvasElement;
  width = 0;
  height = 0;
  ratio = 1;

  constructor(element: HTMLCanvasElement) {
    this.element = element;
  }

  /** A cleared context scaled to CSS pixels, or null while the box has no size. */
  begin(): CanvasRenderingContext2D | null {
    const { clientWidth: width, clientHeight: height } = this.element;
    const context = this.element.getContext("2d");
    if (!context || !width || !height) return null;
    this.ratio = Math.min(3, devicePixelRatio || 1);
    const w = Math.round(width * this.ratio);
    const h = Math.round(height * this.ratio);
    if (this.element.width !== w || this.element.height !== h) {
      this.element.width = w;
      this.element.height = h;
    }
    this.width = width;
    this.height = height;
    context.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    context.clearRect(0, 0, width, height);
    return context;
  }
}

/** The page's text size in pixels, which grows with the screen. */
export function textSize(): number {
  return parseFloat(getComputedStyle(document.documentElement).fontSize);
}

/** Room for the value axis at the left of every lane, in pixels. */
export function gutter(): number {
  return Math.round(2.75 * textSize());
}

/** Shortens text with an ellipsis until it fits. */
export function fitted(context: CanvasRenderingContext2D, text: string, room: number): string {
  if (context.measureText(text).width <= room) return text;
  let low = 0, high = text.length;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (context.measureText(text.slice(0, middle) + "\u2026").width <= room) low = middle;
    else high = middle - 1;
  }
  return low > 0 ? text.slice(0, low).trimEnd() + "\u2026" : "";
}
