/** Which view stands at which address. Heavy ones are fetched when first shown. */
import type { VNode } from 'preact';
import { Cases } from '../cases';
import { History } from '../history';
import { SheetView } from '../sheet';
import { lazy } from './lazy';
import type { CasePart, Route } from './route';
import { Nowhere } from './shell/Nowhere';

const Entry = lazy(() => import('../entry'));
const Bench = lazy(() => import('../bench'));
const Space = lazy(() => import('../space'));
const Pours = lazy(() => import('../bench/pours'));
const Practice = lazy(() => import('../practice'));
const Devices = lazy(() => import('../devices'));

type CaseView = (props: { caseId: number; rest: readonly string[] }) => VNode;

const CASE_VIEW: Record<CasePart, CaseView> = {
  sheet: (props) => <SheetView {...props} />,
  enter: (props) => <Entry {...props} />,
  bench: (props) => <Bench {...props} />,
  space: (props) => <Space {...props} />,
  history: (props) => <History {...props} />,
};

/** What a browser sees that the server has not let in yet. */
export const Locked = () => <Devices unpaired />;

export function View({ at }: { at: Route }): VNode {
  if (at.view === 'case') return CASE_VIEW[at.part]({ caseId: at.id, rest: at.rest });
  if (at.view === 'cases') return <Cases />;
  if (at.view === 'pours') return <Pours />;
  if (at.view === 'practice') return <Practice />;
  if (at.view === 'nowhere') return <Nowhere address={at.address} />;
  return <Devices />;
}
