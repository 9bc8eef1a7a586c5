import { language, LANGUAGES, look, LOOKS, shortcuts, type Language, type Look } from '../settings';
import { ChoiceField, Dialog } from '../ui';
import { t } from '../words';

/** Language, light or dark, single-key shortcuts: kept in this browser. */
export function SettingsWindow({ onClose }: { onClose: () => void }) {
  return (
    <Dialog title={t('app.settings')} onClose={onClose}>
      <ChoiceField
        label={t('app.language.label')}
        value={language.value}
        choices={LANGUAGES.map((value) => ({ value, words: t(`app.language.${value}`) }))}
        onValue={(value) => (language.value = value as Language)}
      />
      <ChoiceField
        label={t('app.look.label')}
        value={look.value}
        choices={LOOKS.map((value) => ({ value, words: t(`app.look.${value}`) }))}
        onValue={(value) => (look.value = value as Look)}
      />
      <ChoiceField
        label={t('app.keys.switch')}
        what={t('app.keys.switch_what')}
        value={shortcuts.value}
        choices={(['on', 'off'] as const).map((value) => ({ value, words: t(`app.keys.${value}`) }))}
        onValue={(value) => (shortcuts.value = value as 'on' | 'off')}
      />
    </Dialog>
  );
}
