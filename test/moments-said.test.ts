import { describe, expect, it } from 'vitest';
import { dayOfMoment, momentText } from '../src/ui/dates.js';
import { drawFor } from '../src/ui/page-workshop.js';

const within = <T>(timeZone: string, draw: () => T): T =>
  drawFor({ name: 'Quarry Lane', timeZone, currency: 'EUR', units: 'metric', scaleStep: 100, isDemo: false }, draw);

describe('when something happened', () => {
  const lateInNovember = '2026-11-30T23:30:00.000Z';

  it('is said by a clock in the workshop', () => {
    expect(within('UTC', () => momentText(lateInNovember))).toBe('Mon 30 Nov 2026, 23:30');
    // Central European Time is UTC + 1, from the last Sunday in March on UTC + 2 (Directive 2000/84/EC)
    expect(within('Europe/Berlin', () => momentText(lateInNovember))).toBe('Tue 1 Dec 2026, 00:30');
    expect(within('Europe/Berlin', () => momentText('2026-03-29T01:00:00.000Z'))).toBe('Sun 29 Mar 2026, 03:00');
    expect(within('Europe/Berlin', () => momentText('2026-03-29T00:59:00.000Z'))).toBe('Sun 29 Mar 2026, 01:59');
  });

  it('was on the day the workshop had', () => {
    const days = ['Pacific/Kiritimati', 'Asia/Kathmandu', 'UTC', 'America/New_York'].map((zone) =>
      within(zone, () => dayOfMoment(lateInNovember)),
    );
    expect(days).toEqual(['2026-12-01', '2026-12-01', '2026-11-30', '2026-11-30']);
    expect(within('America/New_York', () => dayOfMoment(new Date('2026-12-01T04:59:00.000Z')))).toBe('2026-11-30');
  });

  it('says that it is UTC where no workshop is known', () => {
    expect(momentText(lateInNovember)).toBe('Mon 30 Nov 2026, 23:30 UTC');
    expect(dayOfMoment(new Date(lateInNovember))).toBe('2026-11-30');
  });
});
