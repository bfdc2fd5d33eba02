// The screen itself: kept awake while it is watched from afar, full screen, and the camera
// view, an overlay for video at /?camera (also /?camera=dark and /?camera=light).

import { byId } from "./dom.ts";
import type { Theme } from "./theme.ts";

/** Keeps the screen awake in the far and the camera view, where the browser can. */
export class Screen {
  private lock: WakeLockSentinel | null = null;
  private asking = false;

  constructor(theme: Theme) {
    this.camera(theme);
    new MutationObserver(() => void this.wake()).observe(document.body, { attributes: true, attributeFilter: ["class"] });
    document.addEventListener("visibilitychange", () => void this.wake());
    document.addEventListener("fullscreenchange", () => this.showFull());
    byId("full").addEventListener("click", () => this.full());
    byId("full").hidden = !document.fullscreenEnabled;
    void this.wake();
  }

  private camera(theme: Theme): void {
    const wish = new URLSearchParams(location.search).get("camera");
    if (wish === null) return;
    document.body.classList.add("far", "camera");
    if (wish === "dark" || wish === "light") theme.only(wish);
  }

  /** Full screen on, or off. */
  full(): void {
    const done = document.fullscreenElement ? document.exitFullscreen() : document.documentElement.requestFullscreen();
    done.catch(() => undefined); // the browser said no: nothing to be done
  }

  private showFull(): void {
    byId("full").setAttribute("aria-pressed", String(document.fullscreenElement !== null));
  }

  private async wake(): Promise<void> {
    const wanted = document.body.classList.contains("far") && !document.hidden;
    if (!("wakeLock" in navigator) || this.asking || wanted === (this.lock !== null && !this.lock.released)) return;
    this.asking = true;
    try {
      if (wanted) this.lock = await navigator.wakeLock.request("screen");
      else await this.lock?.release();
    } catch {
      this.lock = null; // a low battery, or a system that refuses
    } finally {
      this.asking = false;
    }
  }
}
