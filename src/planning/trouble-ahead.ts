import type { Proposal } from '../kernel/plan/proposal.js';
import { comingMonday } from './coming-monday.js';
import { proposalFrom } from './proposals.js';
import type { Question } from './threads/question.js';

/** What the plan of the coming week says will be short, or left when its last day comes. */
export type TroubleAhead = Pick<Proposal, 'today' | 'shortfalls' | 'atRisk'>;

export const TROUBLE_AHEAD: Question<{ today: string }, TroubleAhead> = {
  name: 'trouble ahead',
  answer: async ({ database, snapshots }, { today }) => {
    const taken = await database.read((tx) => snapshots.take(tx, today, comingMonday(today)));
    const { shortfalls, atRisk } = proposalFrom(taken);
    return { today, shortfalls, atRisk };
  },
};
