import { useState } from 'preact/hooks';
import { drain } from '../outbox';
import { who } from '../settings';
import { Button, Dialog, TextField } from '../ui';
import { t } from '../words';

/** Asks once for the initials that stand beside every change made here. */
export function WhoWindow({ onClose }: { onClose: () => void }) {
  const [initials, setInitials] = useState(who.value);
  const keep = () => {
    who.value = initials.trim();
    onClose();
    void drain();
  };
  return (
    <Dialog
      title={t('app.who.title')}
      onClose={onClose}
      foot={
        <>
          <Button onClick={onClose}>{t('app.who.later')}</Button>
          <Button look="main" type="submit" form="who">
            {t('app.who.keep')}
          </Button>
        </>
      }
    >
      <form
        id="who"
        onSubmit={(event) => {
          event.preventDefault();
          keep();
        }}
      >
        <TextField
          label={t('app.who.label')}
          what={t('app.who.what')}
          value={initials}
          onValue={setInitials}
          input={{ maxLength: 40, autoFocus: true }}
        />
      </form>
    </Dialog>
  );
}
