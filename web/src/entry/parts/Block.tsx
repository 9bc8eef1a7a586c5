/** A part of a form under a heading. */
import type { ComponentChildren } from 'preact';
import { useId } from 'preact/hooks';

type Props = {
  title: string;
  /** The entry that it holds, so that an address can lead here. */
  field?: string;
  text?: string | undefined;
  children: ComponentChildren;
};

export function Block({ title, field, text, children }: Props) {
  const id = useId();
  return (
    <section class="block" aria-labelledby={id} data-field={field}>
      <h3 id={id} tabIndex={-1}>
        {title}
      </h3>
      {text ? <p class="block-text">{text}</p> : null}
      {children}
    </section>
  );
}
