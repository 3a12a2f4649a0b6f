import { z } from 'zod';
import { skill } from '../catalog/formulas.schema.js';
import { weekdayMinutes } from '../catalog/workshop.schema.js';
import { idParam, lineOfText } from '../platform/schema.js';

const SKILLS_MAX = 20;

const said = {
  name: lineOfText(80),
  minutes: weekdayMinutes,
  skills: z
    .array(skill)
    .max(SKILLS_MAX, `must be ${SKILLS_MAX} at most`)
    .default([])
    .describe('What they may do that not all may'),
  isActive: z.boolean().default(true).describe('false: their minutes count for no day'),
};

export const personPut = z.strictObject(said).meta({ id: 'PersonPut' });
export type PersonPut = z.infer<typeof personPut>;

export const personView = z.object({ id: z.int(), ...said }).meta({ id: 'Person' });
export type PersonView = z.infer<typeof personView>;
export const peopleList = z.object({ people: z.array(personView) }).meta({ id: 'PeopleList' });

export const personPath = z.strictObject({ id: idParam });
export type PersonPath = z.infer<typeof personPath>;
