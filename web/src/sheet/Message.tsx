import { useEffect, useState } from 'preact/hooks';
import { api, ask } from '../api/client';
import type { Fault, Shapes } from '../api/shapes';
import { language } from '../app/settings';
import { Button, ChoiceField, Faults, Notice, say } from '../app/ui';
import { t } from '../app/words';

type To = 'lab' | 'dentist';
type State = { message: Shapes['MessageOut'] | null; faults: readonly Fault[]; away: boolean };

/** The message as the server writes it from the answers: to read, and to copy. Nothing is sent from here. */
export default function Message({ caseId, digest }: { caseId: number; digest: string }) {
  const [to, setTo] = useState<To>('lab');
  const [shown, setShown] = useState<State>({ message: null, faults: [], away: false });
  const tongue = language.value;
  useEffect(() => {
    let wanted = true;
    const params = { path: { id: caseId }, query: { to } };
    void ask(api.GET('/api/cases/{id}/message', { params })).then((got) => {
      if (!wanted) return;
      setShown({
        message: got.kind === 'ok' ? got.value : null,
        faults: got.kind === 'faults' ? got.faults : [],
        away: got.kind === 'away',
      });
    });
    return () => {
      wanted = false;
    };
  }, [caseId, to, digest, tongue]);
  const copy = async (text: string) => {
    try {
      await navigator.clipboard.writeText(text);
      say(t('sheet.copied'));
    } catch {
      say(t('sheet.not_copied'));
    }
  };
  const { message } = shown;
  return (
    <section class="message" aria-labelledby="message-title">
      <h3 id="message-title">{t('sheet.message')}</h3>
      <ChoiceField
        label={t('sheet.message_to')}
        value={to}
        choices={[
          { value: 'lab', words: t('sheet.message_to.lab') },
          { value: 'dentist', words: t('sheet.message_to.dentist') },
        ]}
        onValue={(value) => setTo(value as To)}
      />
      <Faults faults={shown.faults} />
      {shown.away ? <Notice kind="ask">{t('app.link.down')}</Notice> : null}
      {message === null ? null : (
        <>
          <div class="message-text">
            <p>
              <strong>{message.subject}</strong>
            </p>
            {message.lines.map((line, at) => (line === '' ? <br key={at} /> : <p key={at}>{line}</p>))}
          </div>
          <div class="row">
            <Button onClick={() => void copy(message.text)}>{t('sheet.copy')}</Button>
          </div>
        </>
      )}
    </section>
  );
}
