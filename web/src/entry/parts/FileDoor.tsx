/** A scan file that goes to an address of the case: what it shows and its unit are asked before anything leaves. */
import { useId, useRef, useState } from 'preact/hooks';
import { upload, type Sending } from '../../api/upload';
import type { Fault, Saved } from '../../api/shapes';
import { taken, theCase } from '../../app/current';
import { Button, Faults, Notice, Progress, say } from '../../app/ui';
import { t } from '../../app/words';
import { fieldAt } from '../core/fields';
import { fields } from '../core/knowledge';
import { onTheWay } from '../core/saving';

const KINDS = '.stl,.ply,.obj,.3mf,.glb';

type Props = {
  caseId: number;
  /** Last part of the address. */
  door: 'record' | 'again';
  /** What goes along without being asked. */
  more?: Readonly<Record<string, string>>;
  /** Choices that go along, each by the entry that it becomes. */
  asked: readonly { name: string; field: string }[];
  unitField: string;
  /** What is said when it is there. */
  done: string;
};

export function FileDoor({ caseId, door, more = {}, asked, unitField, done }: Props) {
  const id = useId();
  const [file, setFile] = useState<File | null>(null);
  const [told, setTold] = useState<Readonly<Record<string, string>>>({});
  const [part, setPart] = useState<number | null>(null);
  const [faults, setFaults] = useState<readonly Fault[]>([]);
  const [ended, setEnded] = useState<'away' | 'stopped' | 'conflict' | null>(null);
  const sending = useRef<Sending<Saved> | null>(null);
  const known = fields();
  const questions = [...asked, { name: 'unit', field: unitField }].map(({ name, field }) => ({
    name,
    info: known === null ? undefined : fieldAt(known, field),
  }));
  const open = questions.find(({ name }) => (told[name] ?? '') === '');
  const hold = (next: File | null) => {
    setFile(next);
    setFaults([]);
    setEnded(null);
  };
  const bring = async () => {
    const revision = theCase.value?.revision;
    if (file === null || revision === undefined) return;
    setPart(0);
    hold(file);
    const query = new URLSearchParams({ based_on: `${revision}`, name: file.name, ...more, ...told });
    sending.current = upload<Saved>('PUT', `/api/cases/${caseId}/scans/${door}?${query}`, file, setPart);
    const got = await sending.current.done;
    setPart(null);
    if (got.kind === 'ok') {
      taken(got);
      setFile(null);
      say(done);
    } else if (got.kind === 'faults') setFaults(got.faults);
    else setEnded(got.kind === 'conflicts' ? 'conflict' : got.kind);
  };
  const not =
    open !== undefined
      ? t('entry.choose_first', { label: open.info?.label ?? open.name })
      : onTheWay.value.length > 0
        ? t('entry.wait_saved')
        : undefined;
  return (
    <div class="stack file-door">
      {part !== null ? (
        <Progress
          words={t('entry.sending', { name: file?.name ?? '' })}
          part={part}
          onCancel={() => sending.current?.stop()}
        />
      ) : (
        <>
          <div class="row">
            <label class="button" htmlFor={id}>
              {t('entry.choose_file')}
            </label>
            <input
              id={id}
              class="unseen file"
              type="file"
              accept={KINDS}
              onChange={(event) => {
                hold(event.currentTarget.files?.[0] ?? file);
                event.currentTarget.value = '';
              }}
            />
            {file === null ? (
              <span class="small quiet">{t('entry.file_kinds')}</span>
            ) : (
              <strong>{file.name}</strong>
            )}
          </div>
          {file === null ? null : (
            <>
              <div class="boxes">
                {questions.map(({ name, info }) => (
                  <div key={name} class="field">
                    <label class="field-label" htmlFor={`${id}-${name}`}>
                      {info?.label ?? name}
                    </label>
                    <select
                      id={`${id}-${name}`}
                      class="input"
                      value={told[name] ?? ''}
                      onChange={(event) => setTold({ ...told, [name]: event.currentTarget.value })}
                    >
                      <option value="">{t('entry.not_said')}</option>
                      {(info?.choices ?? []).map((choice) => (
                        <option key={choice.value} value={choice.value}>
                          {choice.words}
                        </option>
                      ))}
                    </select>
                  </div>
                ))}
              </div>
              <div class="row">
                <Button look="main" not={not} onClick={() => void bring()}>
                  {t('entry.bring_in')}
                </Button>
                <Button onClick={() => hold(null)}>{t('entry.let_go')}</Button>
              </div>
            </>
          )}
        </>
      )}
      <Faults faults={faults} />
      {ended === null ? null : <Notice kind="ask">{t(`entry.file_${ended}`)}</Notice>}
    </div>
  );
}
