import type { ComponentChildren } from 'preact';
import { useEffect, useId, useRef } from 'preact/hooks';
import { t } from '../words';
import { Button } from './Button';

type Props = {
  title: string;
  onClose: () => void;
  children: ComponentChildren;
  /** Buttons of the foot; without them there is one to close. */
  foot?: ComponentChildren;
};

/** A window over the page. The browser's own: it holds the focus, closes on Escape, and gives the focus back. */
export function Dialog({ title, onClose, children, foot }: Props) {
  const box = useRef<HTMLDialogElement>(null);
  const id = useId();
  useEffect(() => {
    const dialog = box.current;
    const before = document.activeElement;
    if (dialog?.open === false) dialog.showModal();
    return () => {
      dialog?.close();
      // By now the window is out of the page: the browser has nowhere to give the focus back from.
      if (before instanceof HTMLElement) before.focus();
    };
  }, []);
  return (
    <dialog
      ref={box}
      class="dialog"
      aria-labelledby={id}
      onCancel={(event) => {
        event.preventDefault();
        onClose();
      }}
    >
      <div class="stack">
        <h2 id={id}>{title}</h2>
        {children}
      </div>
      <div class="row dialog-foot">{foot ?? <Button onClick={onClose}>{t('app.close')}</Button>}</div>
    </dialog>
  );
}
