import { useRef, useState } from 'preact/hooks';
import { download } from '../api/download';
import type { Fault } from '../api/shapes';
import { language } from '../app/settings';
import { caseHref } from '../app/route';
import { Button, Faults, LinkButton, Notice, Progress } from '../app/ui';
import { t, type WordKey } from '../app/words';

const FILES: readonly { name: string; words: WordKey }[] = [
  { name: 'report.pdf', words: 'sheet.file.report' },
  { name: 'papers/prescription.pdf', words: 'sheet.file.prescription' },
  { name: 'papers/patient.pdf', words: 'sheet.file.patient' },
  { name: 'papers/before-cutting.pdf', words: 'sheet.file.before_cutting' },
  { name: 'papers/message.pdf', words: 'sheet.file.message' },
  { name: 'bundle.zip', words: 'sheet.file.bundle' },
  { name: 'case.toml', words: 'sheet.file.case' },
  { name: 'pictures.zip', words: 'sheet.file.pictures' },
  { name: 'export.zip', words: 'sheet.file.export' },
];

/** Files of the case, and the sheet on paper. */
export function Exports({ caseId }: { caseId: number }) {
  const [making, setMaking] = useState<WordKey | null>(null);
  const [faults, setFaults] = useState<readonly Fault[]>([]);
  const [away, setAway] = useState(false);
  const stop = useRef<AbortController | null>(null);

  const make = async (name: string, words: WordKey) => {
    stop.current?.abort();
    const control = new AbortController();
    stop.current = control;
    setMaking(words);
    setFaults([]);
    setAway(false);
    // German tables have decimal commas, as the programs that open them there expect.
    const comma = name === 'export.zip' && language.value === 'de' ? '?decimal_comma=true' : '';
    const outcome = await download(`/api/cases/${caseId}/${name}${comma}`, control.signal);
    if (stop.current !== control) return;
    setMaking(null);
    setAway(outcome.kind === 'away' && !control.signal.aborted);
    if (outcome.kind === 'faults') setFaults(outcome.faults);
  };

  return (
    <section class="exports" aria-labelledby="exports-title">
      <h2 id="exports-title">{t('sheet.files')}</h2>
      <div class="row">
        {FILES.map((file) => (
          <Button key={file.name} onClick={() => void make(file.name, file.words)}>
            {t(file.words)}
          </Button>
        ))}
        <LinkButton href={caseHref(caseId, 'enter', 'prescription')}>
          {t('sheet.see.prescription')}
        </LinkButton>
        <Button onClick={() => print()}>{t('sheet.print')}</Button>
      </div>
      {making === null ? null : (
        <Progress words={t('sheet.making', { file: t(making) })} onCancel={() => stop.current?.abort()} />
      )}
      <Faults faults={faults} />
      {away ? <Notice kind="ask">{t('app.link.down')}</Notice> : null}
    </section>
  );
}
