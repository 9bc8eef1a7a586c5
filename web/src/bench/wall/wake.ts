/** Keeps the screen on while pours go on, where the browser can. */
import { signal } from '@preact/signals';

/** Whether the screen stays on; false where the browser cannot, or the page is not seen. */
export const staysOn = signal(false);

/** Asks for a screen that stays on, and again whenever the page is seen again. Returns what ends it. */
export function keepAwake(): () => void {
  let lock: WakeLockSentinel | null = null;
  let over = false;
  const hold = async () => {
    if (!('wakeLock' in navigator) || document.visibilityState !== 'visible') return;
    try {
      lock = await navigator.wakeLock.request('screen');
    } catch {
      return; // a device that saves power, or does not let it: the moments stay what they are
    }
    if (over) {
      void lock.release();
      return;
    }
    staysOn.value = true;
    lock.addEventListener('release', () => {
      staysOn.value = false;
    });
  };
  const seen = () => void hold();
  seen();
  document.addEventListener('visibilitychange', seen);
  return () => {
    over = true;
    document.removeEventListener('visibilitychange', seen);
    void lock?.release();
    staysOn.value = false;
  };
}
