import { h, type FunctionComponent, type VNode } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { t } from './words';
import { Button, Notice } from './ui';

type View<P> = (props: P) => VNode;
type Loaded<P> = { view: View<P> } | { failed: true } | undefined;

/** A view that is fetched when it is first shown. If fetching fails (the server is away), it can be tried again. */
export function lazy<P extends object>(load: () => Promise<{ default: View<P> }>): View<P> {
  return function Lazy(props: P) {
    const [loaded, setLoaded] = useState<Loaded<P>>();
    const fetchIt = () => {
      load().then(
        (module) => setLoaded({ view: module.default }),
        () => setLoaded({ failed: true }),
      );
    };
    useEffect(fetchIt, []);
    if (loaded === undefined) return <p class="quiet">{t('app.opening')}</p>;
    if ('failed' in loaded) {
      return (
        <Notice kind="ask">
          <p>{t('app.not_loaded')}</p>
          <Button onClick={() => location.reload()}>{t('app.again')}</Button>
        </Notice>
      );
    }
    return <>{h(loaded.view as FunctionComponent<P>, props)}</>;
  };
}
