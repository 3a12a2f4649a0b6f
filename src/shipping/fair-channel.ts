/** Orders of walk-in customers at a fair: one order for each fair, whose lines are what was taken along. */
export const FAIR_CHANNEL = 'fair';
