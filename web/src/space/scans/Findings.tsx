import { useState } from 'preact/hooks';
import type { Shapes } from '../../api/shapes';
import { works } from '../../app/events';
import { Fold, Notice, WorkProgress } from '../../app/ui';
import { t } from '../../app/words';

type Scan = Shapes['ScanOut'];
const KIND = { stop: 'fault', ask: 'ask' } as const;

/** What the checks of a scan found, the heaviest first, each with what to do. */
export function Findings({ scan }: { scan: Scan }) {
  const [open, setOpen] = useState(false);
  const work = scan.work === null ? undefined : works.value.get(scan.work);
  const notes = scan.findings.filter((one) => one.weight === 'note');
  return (
    <div class="stack">
      {work?.state === 'going on' ? <WorkProgress work={work} /> : null}
      {(['stop', 'ask'] as const).map((weight) => {
        const found = scan.findings.filter((one) => one.weight === weight);
        if (found.length === 0) return null;
        return (
          <Notice key={weight} kind={KIND[weight]}>
            <p class="small">{t(`space.weight.${weight}`)}</p>
            <ul>
              {found.map((one) => (
                <li key={`${one.code} ${one.words}`}>
                  <strong>{one.words}</strong> {one.todo}
                </li>
              ))}
            </ul>
          </Notice>
        );
      })}
      {scan.checked && scan.findings.every((one) => one.weight === 'note') ? (
        <p class="good">{t('space.nothing_odd')}</p>
      ) : null}
      {notes.length === 0 ? null : (
        <Fold level={3} head={t('space.weight.note')} open={open} onOpen={setOpen}>
          <ul class="small">
            {notes.map((one) => (
              <li key={one.words}>{one.words}</li>
            ))}
          </ul>
        </Fold>
      )}
    </div>
  );
}
