/** The scene of the case in hand, its surfaces and what is told at the place of the slider: fetched and kept here. */
import { computed, signal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { api, ask } from '../../api/client';
import type { Outcome } from '../../api/outcome';
import type { Fault, Shapes } from '../../api/shapes';
import { theCase } from '../../app/current';
import { onEvent } from '../../app/events';
import { language } from '../../app/settings';
import { NotASurface, readArch, type Arch } from '../gl/decode';
import type { ArchName } from '../gl/stage';
import { surfaceBytes } from './fetching';

export type SceneOut = Shapes['SceneOut'];
export type Stop = Shapes['StopOut'];
export type Site = Shapes['SiteOut'];

export const scene = signal<SceneOut | null>(null);
export const arches = signal<Partial<Record<ArchName, Arch>> | null>(null);
/** From 0 to 1 while surfaces are on their way. */
export const part = signal<number | null>(null);
export const faults = signal<readonly Fault[]>([]);
/** The server did not answer, or the bytes were no surface. */
export const away = signal(false);
/** Number of the place of the slider. */
export const step = signal(0);
/** What is told at some place of the slider: the newest that came. */
export const stop = signal<Stop | null>(null);
/** Whether what is told belongs to where the slider stands: not while it moves. */
export const rests = computed(() => stop.value?.step === step.value);
/** Key of the site that was chosen. */
export const chosen = signal<string | null>(null);

const REST_MS = 160;
const query = (id: number) => ({ params: { path: { id } } });

let loading: AbortController | null = null;

/** Asks as `ask` does; null where `signal` was aborted meanwhile. */
async function unlessAborted<T>(signal: AbortSignal, asked: () => Promise<T>): Promise<T | null> {
  try {
    const got = await asked();
    return signal.aborted ? null : got;
  } catch (error) {
    if (signal.aborted) return null;
    throw error;
  }
}

async function load(id: number): Promise<void> {
  loading?.abort();
  const mine = new AbortController();
  loading = mine;
  const path = { ...query(id), signal: mine.signal };
  const asked = () => ask(api.GET('/api/cases/{id}/scene', path)) as Promise<Outcome<SceneOut>>;
  const got = await unlessAborted(mine.signal, asked);
  if (got === null) return;
  away.value = got.kind === 'away';
  faults.value = got.kind === 'faults' ? got.faults : [];
  if (got.kind !== 'ok') return;
  const before = scene.value;
  take(got.value);
  if (before === null || arches.value === null || surfacesOf(before) !== surfacesOf(got.value)) {
    await loadSurfaces(got.value, mine.signal);
  }
}

/** What the surfaces were made from: the same means that nothing needs to be fetched. */
const surfacesOf = (of: SceneOut) => of.arches.map((arch) => arch.url.replace(/revision=\d+/, '')).join(' ');

function take(found: SceneOut): void {
  const same = scene.value?.steps.length === found.steps.length;
  scene.value = found;
  if (!same) {
    step.value = found.first ?? 0;
    chosen.value = null;
  }
  if (found.now !== null && (!same || step.value === found.now.step)) stop.value = found.now;
  else void tell(step.value);
}

async function loadSurfaces(of: SceneOut, aborted: AbortSignal): Promise<void> {
  arches.value = null;
  const all = of.arches.reduce((sum, arch) => sum + arch.bytes, 0);
  let came = 0;
  part.value = of.arches.length === 0 ? null : 0;
  const found = await Promise.all(
    of.arches.map((arch) =>
      surfaceBytes(arch.url, arch.bytes, aborted, (more) => {
        came += more;
        part.value = came / Math.max(all, 1);
      }),
    ),
  );
  if (aborted.aborted) return;
  part.value = null;
  const made: Partial<Record<ArchName, Arch>> = {};
  of.arches.forEach((arch, k) => {
    const got = found[k];
    if (got === undefined || !('buffer' in got)) away.value = true;
    else made[arch.arch] = readOrNot(got.buffer, arch) ?? made[arch.arch];
  });
  arches.value = made;
}

function readOrNot(buffer: ArrayBuffer, sizes: { vertices: number; faces: number }): Arch | undefined {
  try {
    return readArch(buffer, sizes);
  } catch (error) {
    if (!(error instanceof NotASurface)) throw error;
    away.value = true;
    return undefined;
  }
}

let resting: ReturnType<typeof setTimeout> | undefined;
let telling: AbortController | null = null;

/** Asks what is told at a place of the slider. */
async function tell(at: number): Promise<void> {
  const id = theCase.value?.id;
  const known = scene.value;
  if (id === undefined || known === null || known.steps.length === 0) return;
  telling?.abort();
  const mine = new AbortController();
  telling = mine;
  const path = { params: { path: { id, step: at } }, signal: mine.signal };
  const asked = () => ask(api.GET('/api/cases/{id}/scene/stop/{step}', path)) as Promise<Outcome<Stop>>;
  const got = await unlessAborted(mine.signal, asked);
  if (got?.kind === 'ok' && step.value === at) stop.value = got.value;
}

/** Moves the slider; what is told there follows once it rests. */
export function slide(to: number): void {
  if (to === step.value) return;
  step.value = to;
  clearTimeout(resting);
  resting = setTimeout(() => {
    if (stop.value?.step !== to) void tell(to);
  }, REST_MS);
}

/** Loads the scene of a case, keeps it up with the case and with answers that come, and frees all of it in the end. */
export function useScene(id: number): void {
  const revision = theCase.value?.revision;
  const spoken = language.value;
  useEffect(() => {
    void load(id);
  }, [id, revision, spoken]);
  useEffect(() => {
    const quiet = onEvent((event) => {
      const mine = event.case_id === id && event.kind === 'answer' && event.question === 'contacts';
      if (mine || event.kind === 'anew') void load(id);
    });
    return () => {
      quiet();
      loading?.abort();
      telling?.abort();
      clearTimeout(resting);
      scene.value = null;
      arches.value = null;
      stop.value = null;
      chosen.value = null;
      part.value = null;
    };
  }, [id]);
}

/** Tries once more after the server was away. */
export const again = (id: number): void => {
  away.value = false;
  void load(id);
};
