/** The current formula of each made item, with all columns. */
export const CURRENT_FORMULAS = `(select distinct on (item_id) * from formula where not withdrawn order by item_id, version desc)`;
