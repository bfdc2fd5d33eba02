// Two fingers on the river: by how much they spread or close, and around which place.

/** Calls with the factor by which the time shown should grow; the answer says whether two fingers are down. */
export function onPinch(element: HTMLElement, call: (factor: number, clientX: number) => void): () => boolean {
  const fingers = new Map<number, number>();
  const apart = () => {
    const [a = 0, b = 0] = fingers.values();
    return { distance: Math.max(20, Math.abs(a - b)), middle: (a + b) / 2 };
  };
  element.addEventListener("pointerdown", (e) => { if (e.pointerType === "touch") fingers.set(e.pointerId, e.clientX); });
  element.addEventListener("pointermove", (e) => {
    if (!fingers.has(e.pointerId)) return;
    const before = apart().distance;
    fingers.set(e.pointerId, e.clientX);
    if (fingers.size !== 2) return;
    const { distance, middle } = apart();
    if (distance !== before) call(before / distance, middle);
  });
  for (const end of ["pointerup", "pointercancel", "lostpointercapture"] as const) element.addEventListener(end, (e) => fingers.delete(e.pointerId));
  return () => fingers.size > 1;
}
