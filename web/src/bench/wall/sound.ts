/** Tones for what comes. Planned ahead on the audio clock, so that a tab in the background is heard at its moment too. */
import { effect, signal } from '@preact/signals';

const KEY = 'mountproof.sound';

/** Whether this browser is to sound. A browser only lets it after somebody touched the page. */
export const wanted = signal<'on' | 'off'>(localStorage.getItem(KEY) === 'on' ? 'on' : 'off');
effect(() => localStorage.setItem(KEY, wanted.value));

/** Whether tones can be heard now: `asleep` until somebody touches the page, `none` where there is no audio. */
export const state = signal<'running' | 'asleep' | 'none'>('asleep');

/** `act`: a person has to do something now. `near`: nothing to do yet. */
export type Tone = 'act' | 'near';
const TONES: Readonly<Record<Tone, readonly (readonly [number, number, number])[]>> = {
  // Frequency in Hz, begin and length in s.
  act: [
    [880, 0, 0.22],
    [1175, 0.28, 0.22],
    [880, 0.7, 0.22],
    [1175, 0.98, 0.22],
    [880, 1.4, 0.22],
    [1175, 1.68, 0.45],
  ],
  near: [
    [660, 0, 0.18],
    [660, 0.3, 0.18],
  ],
};

let context: AudioContext | null = null;
/** Tones that lie ahead, and when they begin on the audio clock. */
let planned: { swing: OscillatorNode; at: number }[] = [];

function tone(audio: AudioContext, kind: Tone, after_s: number): typeof planned {
  return TONES[kind].map(([hertz, begin, length]) => {
    const at = audio.currentTime + Math.max(0, after_s) + begin;
    const swing = audio.createOscillator();
    const volume = audio.createGain();
    swing.frequency.value = hertz;
    volume.gain.setValueAtTime(0, at);
    volume.gain.linearRampToValueAtTime(0.5, at + 0.02);
    volume.gain.setValueAtTime(0.5, at + length - 0.04);
    volume.gain.linearRampToValueAtTime(0, at + length);
    swing.connect(volume).connect(audio.destination);
    swing.start(at);
    swing.stop(at + length);
    return { swing, at };
  });
}

function told(): void {
  state.value = context?.state === 'running' ? 'running' : 'asleep';
}

/** Asks the browser for sound; to be called from a touch or a key. */
export async function wake(): Promise<void> {
  if (wanted.value === 'off') return;
  if (typeof AudioContext === 'undefined') {
    state.value = 'none';
    return;
  }
  if (context === null) {
    context = new AudioContext();
    context.onstatechange = told;
  }
  if (context.state !== 'running') await context.resume();
  told();
}

/** Lets a tone be heard now. */
export function sound(kind: Tone): void {
  if (context !== null && state.value === 'running' && wanted.value === 'on') tone(context, kind, 0);
}

/** Plans the tones of what comes; what was planned before is dropped. `in_ms` counts from now. */
export function plan(coming: readonly { in_ms: number; kind: Tone }[]): void {
  const audio = context;
  // A tone that is being heard is left to its end.
  for (const one of planned) if (audio !== null && one.at > audio.currentTime) one.swing.disconnect();
  const heard = audio !== null && state.value === 'running' && wanted.value === 'on';
  planned = heard ? coming.flatMap((one) => tone(audio, one.kind, one.in_ms / 1000)) : [];
}
