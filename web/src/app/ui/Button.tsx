import type { ComponentChildren, JSX } from 'preact';

type Look = 'usual' | 'main' | 'plain';
type Props = Omit<JSX.IntrinsicElements['button'], 'class' | 'disabled'> & {
  look?: Look;
  /** Why it can not be pressed now. It stays reachable and says so, instead of being a dead grey thing. */
  not?: string | undefined;
};

const classes = (look: Look) => (look === 'usual' ? 'button fades' : `button fades button-${look}`);

export function Button({ look = 'usual', not, onClick, children, ...rest }: Props) {
  const why = not === undefined || not === '' ? {} : { 'aria-disabled': true, title: not };
  return (
    <button type="button" {...rest} {...why} class={classes(look)} onClick={not ? undefined : onClick}>
      {children}
      {not ? <span class="unseen">{not}</span> : null}
    </button>
  );
}

/** A link that looks like a button: it leads somewhere, a button does something. */
export function LinkButton({
  href,
  look = 'usual',
  download,
  children,
}: {
  href: string;
  look?: Look;
  download?: boolean;
  children: ComponentChildren;
}) {
  return (
    <a class={classes(look)} href={href} download={download}>
      {children}
    </a>
  );
}
