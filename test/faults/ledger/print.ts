import type { Figures } from './run.js';

const LISTED_MAX = 20;

/** The figures of a run for a person, one line each; what is wrong is listed. */
export function printed(figures: Figures): string {
  const { size, tally, kills } = figures;
  const counts = (of: Record<string, number>) =>
    Object.entries(of)
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([name, count]) => `${name} ${count}`)
      .join(', ') || 'none';
  const rate = tally.operations / figures.seconds;
  const lines = [
    `${size.arrangement === 'own' ? 'its own PostgreSQL' : 'a PostgreSQL apart'}, seed ${size.seed}, ${size.clients} clients`,
    `  operations    ${tally.operations}: ${counts(tally.byKind)}`,
    `  over          ${figures.lots} lots, ${figures.orders} orders, ${figures.batches} batches`,
    `  kills         ${kills.server + kills.database + kills.both}: ${counts(kills)}`,
    `  settings      ${Object.entries(figures.settings)
      .map((pair) => pair.join(' '))
      .join(', ')}`,
    `  retries       ${tally.retries}, answered from memory ${tally.replays}`,
    `  refusals      ${counts(tally.refusals)}`,
    `  try again     ${counts(tally.passing)}`,
    `  acknowledged  ${figures.acknowledged}, refused ${figures.refused}, never answered ${figures.unanswered}`,
    `  lost          ${figures.lost.length}`,
    `  doubled       ${figures.doubled.length}`,
    `  asked again   ${figures.replayed}, answered otherwise ${figures.otherAnswers.length}`,
    `  violations    ${figures.violations.length}`,
    `  verify        exit ${figures.verified.code}: ${figures.verified.output.split('\n').at(-1)}`,
    `  faults        ${tally.faults.length}`,
    `  time          ${figures.seconds.toFixed(1)} s, ${rate.toFixed(0)} operations/s, kills and starts included`,
  ];
  const wrong = [
    ...figures.lost,
    ...figures.doubled,
    ...figures.otherAnswers,
    ...figures.violations.map((row) => JSON.stringify(row)),
    ...tally.faults,
  ];
  return [...lines, ...wrong.slice(0, LISTED_MAX).map((line) => `  ! ${line}`)].join('\n');
}

/** Whether nothing was lost, doubled or broken. */
export function isWhole({
  lost,
  doubled,
  otherAnswers,
  violations,
  unanswered,
  tally,
  settings,
  verified,
}: Figures): boolean {
  const wrong = lost.length + doubled.length + otherAnswers.length + violations.length + unanswered;
  return (
    wrong + tally.faults.length + verified.code === 0 && Object.values(settings).every((setting) => setting === 'on')
  );
}
