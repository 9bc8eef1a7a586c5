/** How the picture is shown: which view, which parts, in colour or grey. Stays while the page is open. */
import { signal } from '@preact/signals';
import type { View } from '../gl/panes';

export const view = signal<View>('both');
export const grey = signal(false);
export const bands = signal(true);
export const numbers = signal(true);
/** Casts and instrument that a person put away or fetched in the present view. */
export const only = signal<{ upper?: boolean; lower?: boolean; frame?: boolean }>({});
