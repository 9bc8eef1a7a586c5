/** A scan on its way: the file that was dropped, how far it is, and what was wrong with it. */
import { signal } from '@preact/signals';
import { upload, type Sending } from '../../api/upload';
import type { Fault, Saved } from '../../api/shapes';
import { taken, theCase } from '../../app/current';
import { say } from '../../app/ui';
import { t } from '../../app/words';
import type { ArchName } from '../gl/stage';

export type Bringing = {
  file: File | null;
  unit: string;
  /** From 0 to 1 while the file is on its way. */
  part: number | null;
  faults: readonly Fault[];
  /** Nothing was changed: the server was away, or somebody stopped it. */
  ended: 'away' | 'stopped' | 'conflict' | null;
};

const nothing: Bringing = { file: null, unit: '', part: null, faults: [], ended: null };
export const bringing = {
  upper: signal(nothing),
  lower: signal(nothing),
} satisfies Record<ArchName, unknown>;

const on = new Map<ArchName, Sending<Saved>>();

const change = (arch: ArchName, to: Partial<Bringing>): void => {
  bringing[arch].value = { ...bringing[arch].value, ...to };
};

/** Takes a file in hand. Nothing leaves before its unit is said. */
export const hold = (arch: ArchName, file: File): void => change(arch, { file, faults: [], ended: null });
export const sayUnit = (arch: ArchName, unit: string): void => change(arch, { unit });
export const letGo = (arch: ArchName): void => {
  bringing[arch].value = { ...nothing, unit: bringing[arch].value.unit };
};
export const cancel = (arch: ArchName): void => on.get(arch)?.stop();

/** Sends a file to an address of the case in hand, with progress in `arch`; true where it is there now. */
async function send(arch: ArchName, path: string, file: File): Promise<boolean> {
  change(arch, { part: 0, faults: [], ended: null });
  const sending = upload<Saved>('PUT', path, file, (part) => change(arch, { part }));
  on.set(arch, sending);
  const got = await sending.done;
  on.delete(arch);
  change(arch, { part: null });
  if (got.kind === 'ok') taken(got);
  else if (got.kind === 'faults') change(arch, { faults: got.faults });
  else change(arch, { ended: got.kind === 'conflicts' ? 'conflict' : got.kind });
  return got.kind === 'ok';
}

/** Brings the scan in. What is in hand stays there until the server has it. */
export async function bringIn(id: number, arch: ArchName): Promise<void> {
  const { file, unit } = bringing[arch].value;
  const revision = theCase.value?.revision;
  if (file === null || unit === '' || revision === undefined) return;
  const query = new URLSearchParams({ based_on: `${revision}`, unit, name: file.name });
  const there = await send(arch, `/api/cases/${id}/scans/${arch}?${query}`, file);
  if (!there) return;
  letGo(arch);
  say(t(`space.scan_there.${arch}`));
}

/** Brings a list of tooth numbers in beside a scan. */
export async function bringTeeth(id: number, arch: ArchName, file: File): Promise<void> {
  const revision = theCase.value?.revision;
  if (revision === undefined) return;
  const query = new URLSearchParams({ based_on: `${revision}` });
  const there = await send(arch, `/api/cases/${id}/scans/${arch}/teeth?${query}`, file);
  if (there) say(t('space.teeth_there'));
}
