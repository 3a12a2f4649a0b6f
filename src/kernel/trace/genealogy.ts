/** Goods as they went: between lots, batches, deliveries and orders, each by a key of its own. */
export interface Link {
  from: string;
  to: string;
  quantity: number;
}

/** Links that lead in a circle: goods cannot come of themselves. */
export class GenealogyCircle extends Error {
  constructor(readonly keys: string[]) {
    super(`These come of themselves: ${keys.slice(0, 5).join(', ')}`);
    this.name = 'GenealogyCircle';
  }
}

/** Everything one key leads to (`forward`) or comes of (`back`), itself included. One step per link. */
export function reached(links: readonly Link[], start: string, direction: 'back' | 'forward'): Set<string> {
  const next = new Map<string, string[]>();
  for (const link of links) {
    const [here, there] = direction === 'forward' ? [link.from, link.to] : [link.to, link.from];
    const known = next.get(here);
    if (known) known.push(there);
    else next.set(here, [there]);
  }
  const seen = new Set([start]);
  // a set grows while it is walked through
  for (const key of seen) for (const there of next.get(key) ?? []) seen.add(there);
  return seen;
}

/**
 * The layer of every key: nothing stands left of what it comes of, and whatever has sources stands right behind the last
 * of them. Throws GenealogyCircle.
 */
export function layersOf(links: readonly Link[], alone: readonly string[] = []): Map<string, number> {
  const ahead = new Map<string, string[]>();
  const waiting = new Map<string, number>(alone.map((key) => [key, 0]));
  for (const { from, to } of links) {
    const known = ahead.get(from);
    if (known) known.push(to);
    else ahead.set(from, [to]);
    if (!waiting.has(from)) waiting.set(from, 0);
    waiting.set(to, (waiting.get(to) ?? 0) + 1);
  }
  const layers = new Map<string, number>();
  const ready = [...waiting].filter(([, sources]) => sources === 0).map(([key]) => key);
  for (const key of ready) layers.set(key, 0);
  for (const key of ready)
    for (const to of ahead.get(key) ?? []) {
      layers.set(to, Math.max(layers.get(to) ?? 0, layers.get(key)! + 1));
      const left = waiting.get(to)! - 1;
      waiting.set(to, left);
      if (left === 0) ready.push(to);
    }
  if (ready.length < waiting.size)
    throw new GenealogyCircle([...waiting].filter(([, left]) => left > 0).map(([key]) => key));
  return layers;
}

/** What may be drawn as one: the group's own key and what is in it. */
export interface Folded {
  key: string;
  members: string[];
}

/**
 * Draws alike things as one until at most `most` are left: keys of the same group on the same layer, the largest groups
 * first. A key whose `groupOf` is null is never folded. Links between the same two are summed. What is folded is told.
 */
export function fold(
  links: readonly Link[],
  keys: readonly string[],
  groupOf: (key: string) => string | null,
  most: number,
): { keys: string[]; links: Link[]; folded: Folded[] } {
  const layers = layersOf(links, keys);
  const groups = new Map<string, string[]>();
  for (const key of keys) {
    const group = groupOf(key);
    if (group === null) continue;
    const name = `${group} ${layers.get(key)}`;
    const members = groups.get(name);
    if (members) members.push(key);
    else groups.set(name, [key]);
  }
  const folded: Folded[] = [];
  let left = keys.length;
  const largestFirst = [...groups].sort(([a, x], [b, y]) => y.length - x.length || (a < b ? -1 : 1));
  for (const [name, members] of largestFirst) {
    if (left <= most || members.length < 2) break;
    folded.push({ key: `fold:${name}`, members });
    left -= members.length - 1;
  }
  const standsIn = new Map(folded.flatMap(({ key, members }) => members.map((member) => [member, key] as const)));
  const shown = (key: string) => standsIn.get(key) ?? key;
  const summed = new Map<string, Link>();
  for (const link of links) {
    const [from, to] = [shown(link.from), shown(link.to)];
    const known = summed.get(`${from}\n${to}`);
    if (known) known.quantity += link.quantity;
    else summed.set(`${from}\n${to}`, { from, to, quantity: link.quantity });
  }
  return { keys: [...new Set(keys.map(shown))], links: [...summed.values()], folded };
}
