// The sound of an alarm: three short falling pairs of tones, made by the browser itself. A
// browser lets a page sound only after the user has touched it once.

const PAIR_S = 0.42;
const TONES = [1046.5, 784]; // C6 and G5: clear of fan noise, and both within what small speakers give

export class Sound {
  private context: AudioContext | null = null;

  constructor() {
    for (const touch of ["pointerdown", "keydown"] as const) {
      addEventListener(touch, () => this.wake(), { capture: true });
    }
  }

  /** True once the browser lets this page sound. */
  get ready(): boolean {
    return this.context?.state === "running";
  }

  private wake(): void {
    if (typeof AudioContext === "undefined") return;
    this.context ??= new AudioContext();
    if (this.context.state === "suspended") void this.context.resume();
  }

  /** Sounds once; nothing where the browser does not allow it. */
  play(): void {
    if (!this.context) return;
    const begin = this.context.currentTime + 0.02;
    for (let pair = 0; pair < 3; pair++) {
      TONES.forEach((tone, i) => this.tone(tone, begin + pair * PAIR_S + i * 0.16));
    }
  }

  private tone(hertz: number, at: number): void {
    const context = this.context!;
    const voice = new OscillatorNode(context, { type: "triangle", frequency: hertz });
    const gain = new GainNode(context, { gain: 0 });
    gain.gain.setValueAtTime(0, at);
    gain.gain.linearRampToValueAtTime(0.5, at + 0.01);
    gain.gain.exponentialRampToValueAtTime(0.001, at + 0.15);
    voice.connect(gain).connect(context.destination);
    voice.start(at);
    voice.stop(at + 0.16);
  }
}
