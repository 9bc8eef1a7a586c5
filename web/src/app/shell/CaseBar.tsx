import { theCase } from '../current';
import { CASE_PARTS, caseHref, type CasePart } from '../route';
import { t } from '../words';

/** The parts of the case in hand. */
export function CaseBar({ id, part }: { id: number; part: CasePart }) {
  const found = theCase.value;
  return (
    <nav class="case-bar" aria-label={t('app.case_parts')}>
      <div class="case-bar-in">
        <span class="case-code">{found?.code ?? ' '}</span>
        <ul class="tabs">
          {CASE_PARTS.map((name) => (
            <li key={name}>
              <a class="tab" href={caseHref(id, name)} aria-current={name === part ? 'page' : undefined}>
                {t(`app.part.${name}`)}
              </a>
            </li>
          ))}
        </ul>
        {found === null ? null : (
          <span class="small quiet">
            {t('app.revision', { revision: found.revision })} ·{' '}
            {t(`app.numbering.${numberingOf(found.numbering)}`)}
          </span>
        )}
      </div>
    </nav>
  );
}

const numberingOf = (name: string) => (name === 'universal' ? 'universal' : 'iso3950');
