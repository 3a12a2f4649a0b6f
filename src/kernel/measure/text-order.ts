/** Order of codes that does not depend on the machine's language. */
export const byText = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);
