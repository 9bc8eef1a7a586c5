/** What was just passed: heard, shown large, and said once to those who listen to the page. */
import { computed, effect, signal, untracked } from '@preact/signals';
import { say } from '../../app/ui';
import { t } from '../../app/words';
import { alarms, dueOf, ms, passed, type Alarm, type Pour } from './clock';
import { all, going } from './list';
import { now } from './now';
import { plan, sound, state, wanted, type Tone } from './sound';

/** How long a passed moment is shown large, unless somebody has seen it. */
const SHOWN_MS = 60_000;
/** A moment that was passed longer ago than this while nobody looked is past, no alarm. */
const FRESH_MS = 10 * 60_000;
/** Hands that stay on are reminded of it in this rhythm, until the stone sets. */
const REMIND_MS = 20_000;
/** How far ahead tones are planned. */
const AHEAD_MS = 15 * 60_000;

const rung = signal<readonly Alarm[]>([]);
const seenAt = signal(0);

/** Passed moments that nobody has marked as seen, the last first. */
export const ringing = computed(() =>
  rung.value.filter((one) => one.at > seenAt.value && now.value - one.at < SHOWN_MS).reverse(),
);

/** Somebody has seen them. */
export function seen(): void {
  seenAt.value = now.peek();
}

export const words = (alarm: Alarm): string =>
  t('bench.alarm', {
    code: alarm.pour.code,
    cast: alarm.pour.words,
    what: alarm.marks.map((mark) => mark.words).join(' · '),
  });

const kindOf = (alarm: Alarm): Tone =>
  alarm.marks.some((mark) => mark.key === 'hands_off' || mark.key === 'release') ? 'act' : 'near';

/** Moments at which hands that are still on are reminded: after theirs, until the stone sets. */
export function reminders(pours: readonly Pour[], after: number): number[] {
  return pours.flatMap((pour) => {
    const due = dueOf(pour, after);
    if (due?.kind !== 'waits' || due.marks[0]?.key !== 'hands_off') return [];
    const sets = pour.marks.find((mark) => mark.key === 'set');
    const until = sets === undefined ? due.at : ms(sets.at);
    const found: number[] = [];
    for (let at = due.at + REMIND_MS; at < until; at += REMIND_MS) if (at > after) found.push(at);
    return found;
  });
}

/** `because` is what changed; it is only read so that the plan follows it. */
function planAhead(because: readonly unknown[]): void {
  if (because.length === 0) return;
  const from = now.peek();
  const coming = alarms(going.peek(), from).filter((one) => one.at - from < AHEAD_MS);
  plan([
    ...coming.map((one) => ({ in_ms: one.at - from, kind: kindOf(one) })),
    ...reminders(going.peek(), from).map((at) => ({ in_ms: at - from, kind: 'near' as const })),
  ]);
}

/** Watches for what is passed until the function given back is called. */
export function watchAlarms(): () => void {
  let before = now.peek();
  const stopWatching = effect(() => {
    const at = now.value;
    untracked(() => {
      const slept = at - before > 5000;
      const fresh = passed(all.value ?? [], before, at).filter((one) => at - one.at < FRESH_MS);
      before = at;
      if (fresh.length === 0) return;
      rung.value = [...rung.value.filter((one) => at - one.at < SHOWN_MS), ...fresh];
      say(fresh.map(words).join('. '));
      // Awake, the planned tone is heard at this moment. What was slept through is heard now.
      if (slept) sound('act');
    });
  });
  // Planned anew whenever the pours, the sound or what waits have changed, and every minute.
  const turn = computed(() => Math.floor(now.value / 60_000));
  const order = computed(() => going.value.map((pour) => `${pour.case_id} ${pour.key}`).join());
  const stopPlanning = effect(() => {
    const because = [turn.value, order.value, all.value, state.value, wanted.value];
    untracked(() => planAhead(because));
  });
  return () => {
    stopWatching();
    stopPlanning();
    plan([]);
  };
}
