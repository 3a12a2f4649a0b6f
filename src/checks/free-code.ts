const LENGTH_MAX = 56;

/** A code of a-z, 0-9 and dash made of a name, starting with a letter, with a number after it where it is taken. */
export function freeCode(name: string, taken: ReadonlySet<string>): string {
  const plain = name
    .normalize('NFKD')
    .toLowerCase()
    .replace(/\p{M}/gu, '')
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^[-0-9]+/, '')
    .slice(0, LENGTH_MAX)
    .replace(/-+$/, '');
  const base = plain === '' ? 'own' : plain;
  if (!taken.has(base)) return base;
  for (let n = 2; ; n++) if (!taken.has(`${base}-${n}`)) return `${base}-${n}`;
}
