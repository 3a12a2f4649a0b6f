/** Who may make what asks for this; null where anybody may. */
export const whoMay = (
  people: readonly { name: string; skills: readonly string[] }[] | null,
  skill: string | null,
): string[] | null =>
  people === null || skill === null
    ? null
    : people.filter(({ skills }) => skills.includes(skill)).map(({ name }) => name);
