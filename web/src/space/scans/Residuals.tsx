import type { Shapes } from '../../api/shapes';
import { theCase } from '../../app/current';
import { t } from '../../app/words';
import { asking, tried } from '../../entry/core/trying';
import type { ArchName } from '../gl/stage';

/** A scan as it stands with everything that is typed, before it is saved. */
export function scanNow(caseId: number, arch: ArchName): Shapes['ScanOut'] | undefined {
  const trial = tried.value?.caseId === caseId ? tried.value.out?.case : undefined;
  return (trial ?? theCase.value)?.scans.find((scan) => scan.arch === arch);
}

/** What is left of every landmark after placement, while it is typed. */
export function Residuals({ caseId, arch }: { caseId: number; arch: ArchName }) {
  const scan = scanNow(caseId, arch);
  if (scan === undefined) return null;
  return (
    <div class="residuals" aria-live="polite" aria-busy={asking.value}>
      <p>
        <strong>{scan.placed === '' ? t('space.not_placed') : scan.placed}</strong>
      </p>
      {scan.residuals.length === 0 ? null : (
        <table class="table">
          <caption>{t('space.residuals')}</caption>
          <thead>
            <tr>
              <th scope="col">{t('space.landmark')}</th>
              <th scope="col">{t('space.left_over')}</th>
              <th scope="col">{t('space.asked')}</th>
            </tr>
          </thead>
          <tbody>
            {scan.residuals.map((one) => (
              <tr key={one.name}>
                <th scope="row">{one.name}</th>
                <td>{one.shown}</td>
                <td>{one.asked}</td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </div>
  );
}
