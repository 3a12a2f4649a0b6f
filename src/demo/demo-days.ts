/** The two days everything else is counted from. */
export interface DemoDays {
  today: string;
  /** First day of the week that is planned by default. */
  week: string;
}
