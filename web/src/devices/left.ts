/** A clock: how long something is still good, by the moment when it ends. */
import { useEffect, useState } from 'preact/hooks';

const SECOND_MS = 1000;

/** Whole seconds until a moment; never below 0. A moment that cannot be read is over. */
export function secondsLeft(end: string, now: number): number {
  const left = Math.ceil((Date.parse(end) - now) / SECOND_MS);
  return left > 0 ? left : 0;
}

/** Minutes and seconds as a clock shows them: `4:05`. */
export function clockText(seconds: number): string {
  const whole = Math.floor(seconds / 60);
  return `${whole}:${`${seconds % 60}`.padStart(2, '0')}`;
}

/** Seconds until a moment, told again as they go. Right also after the computer slept: the moment is what counts. */
export function useSecondsLeft(end: string): number {
  const [left, setLeft] = useState(() => secondsLeft(end, Date.now()));
  useEffect(() => {
    const look = () => setLeft(secondsLeft(end, Date.now()));
    look();
    const timer = setInterval(look, SECOND_MS / 4);
    return () => clearInterval(timer);
  }, [end]);
  return left;
}
