/** The devices that the server knows, asked for again whenever it says that they changed. */
import { signal } from '@preact/signals';
import { api, ask } from '../api/client';
import type { Outcome } from '../api/outcome';
import type { Fault, Shapes } from '../api/shapes';
import { onEvent } from '../app/events';

export type Device = Shapes['DeviceOut'];

/** Null until they are known. */
export const devices = signal<Device[] | null>(null);
export const faults = signal<Fault[]>([]);

function take(got: Outcome<Device[]>): void {
  if (got.kind === 'ok') devices.value = got.value;
  faults.value = got.kind === 'faults' ? got.faults : [];
}

export async function reloadDevices(): Promise<void> {
  take(await ask(api.GET('/api/devices')));
}

/** Lets a device in no more. Tells whether the server did so. */
export async function revoke(id: string): Promise<boolean> {
  const got = await ask(api.DELETE('/api/devices/{id}', { params: { path: { id } } }));
  take(got);
  return got.kind === 'ok';
}

const EVERY_MS = 30_000;

/** Keeps the list up to date while it is looked at. Returns what stops it. */
export function watchDevices(): () => void {
  void reloadDevices();
  const stop = onEvent((event) => {
    if (event.kind === 'devices' || event.kind === 'anew') void reloadDevices();
  });
  // When a device came in last is told by no event.
  const timer = setInterval(() => void reloadDevices(), EVERY_MS);
  return () => {
    stop();
    clearInterval(timer);
  };
}
