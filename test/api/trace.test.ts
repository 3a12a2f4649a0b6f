import { describe, expect, it } from 'vitest';
import type { TraceView } from '../../src/trace/trace.schema.js';
import { startTestApp } from '../support/app.js';
import type { TestApp } from '../support/app.js';
import { writeGenealogy } from '../support/genealogy.js';
import type { KnownGenealogy } from '../support/genealogy-workshop.js';
import { patience, runs } from '../support/scale.js';

const traced = async (app: TestApp, code: string, direction: TraceView['direction']): Promise<TraceView> => {
  const answer = await app.request<TraceView>('GET', `/api/trace/lots/${code}?direction=${direction}`);
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
};

const codes = ({ lots }: TraceView) => lots.map(({ code }) => code).sort();

/** Amounts of the links as the generator keeps them. */
const amounts = ({ links }: TraceView) =>
  Object.fromEntries(links.map(({ from, to, quantity }) => [`${from} ${to}`, quantity]).sort());

/** Every lot that comes of this one, by the generator's account. */
const reachedFrom = (known: KnownGenealogy, code: string) =>
  [...known.lots.values()].filter(({ comesOf }) => comesOf.has(code)).map((lot) => lot.code);

/** What parcels of a trace hold, by lot and order. */
function sentOf({ parcels }: TraceView): Record<string, number> {
  const sums: Record<string, number> = {};
  for (const { lot, channel, number, quantity } of parcels)
    sums[`${lot} ${channel}/${number}`] = (sums[`${lot} ${channel}/${number}`] ?? 0) + quantity;
  return sums;
}

/** What the generator sent of these lots, by order. */
function knownSent(known: KnownGenealogy, lots: readonly string[]): Record<string, number> {
  const sums: Record<string, number> = {};
  for (const lot of lots)
    for (const [order, quantity] of known.sent.get(lot) ?? [])
      sums[`${lot} ${order}`] = (sums[`${lot} ${order}`] ?? 0) + quantity;
  return sums;
}

/** The links from these lots, to whatever they went into, and from batches to them; `start` itself came before. */
function linksAhead(known: KnownGenealogy, lots: readonly string[], start: string): Record<string, number> {
  const reached = new Set(lots);
  const isAhead = ([from, to]: [string, string]) =>
    from.startsWith('lot:')
      ? reached.has(from.slice(4))
      : from.startsWith('batch:') && to.slice(4) !== start && reached.has(to.slice(4));
  return Object.fromEntries([...known.amounts].filter(([link]) => isAhead(link.split(' ') as [string, string])).sort());
}

function linksBehind(known: KnownGenealogy, lots: Iterable<string>): Record<string, number> {
  const links = [...lots].flatMap((code) => [...known.lots.get(code)!.cameBy]);
  return Object.fromEntries(links.map((link) => [link, known.amounts.get(link)!] as const).sort());
}

const DONE =
  'receipt,batch,leftover,weighing taken back,rework,shipment,shipment taken back,return,split,split taken back,hold,taken away,loop refused';

describe('a random workshop of several years', () => {
  const done = new Set<string>();

  it.each(Array.from({ length: runs(2, 40) }, (_, n) => n + 1))(
    'is traced exactly as it was made, seed %i',
    async (seed) => {
      const app = await startTestApp();
      try {
        const known = await writeGenealogy(app.database, seed, 380);
        for (const what of known.done.keys()) done.add(what);
        for (const [code, { comesOf }] of known.lots) {
          const back = await traced(app, code, 'back');
          expect(codes(back), `back from ${code}`).toEqual([...comesOf].sort());
          expect(amounts(back), `back from ${code}`).toEqual(linksBehind(known, comesOf));
          const forward = await traced(app, code, 'forward');
          const reached = reachedFrom(known, code).sort();
          expect(codes(forward), `forward from ${code}`).toEqual(reached);
          expect(amounts(forward), `forward from ${code}`).toEqual(linksAhead(known, reached, code));
          expect(sentOf(forward), `sent of ${code}`).toEqual(knownSent(known, reached));
        }
      } finally {
        await app.close();
      }
    },
    patience(120_000),
  );

  it('did everything that can happen to a lot', () => {
    expect([...done].sort()).toEqual(DONE.split(',').sort());
  });
});
