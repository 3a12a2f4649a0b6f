import dagre from '@dagrejs/dagre';
import { fold, type Link } from '../../kernel/trace/genealogy.js';
import type { Measure } from '../../kernel/measure/quantity.js';
import type { LotStatus } from '../../stock/stock.entity.js';
import type { TraceView } from '../../trace/trace.schema.js';
import { STATUS_WORDS } from '../shelf/elsewhere/shelf-words.js';
import { amountText } from '../../ui/amounts.js';
import { count } from '../../ui/words.js';

/** More boxes than these nobody reads; alike ones on one layer are then drawn as one. */
const BOXES_MOST = 48;
/** And where folding is needed, alike things fold alike: half folded, the rest takes all the room. */
const FOLDED_TO = 24;
const BOX = { width: 150, height: 46 };
const EDGE = { width: 68, height: 16 };

interface Box {
  id: string;
  title: string;
  line: string;
  href: string | null;
  kind: 'lot' | 'batch' | 'delivery' | 'order' | 'several';
  status: LotStatus | null;
  isStart: boolean;
}

/**
 * The genealogy as a picture, sources left, customers right, what went between them on the lines. Lots that may not be
 * used say so in words and are hatched. What it shows stands in the tables below it.
 */
export function GenealogyGraph({ trace }: { trace: TraceView }): JSX.Element {
  const { boxes, edges, width, height } = laidOut(trace);
  return (
    <figure class="genealogy">
      <div
        class="scroll"
        role="region"
        tabindex="0"
        aria-label="Picture of the genealogy, sources left, customers right"
      >
        <svg
          viewBox={`0 0 ${width} ${height}`}
          width={String(width)}
          height={String(height)}
          role="group"
          aria-label={`${count(trace.lots.length, 'lot')}, ${count(trace.batches.length, 'batch', 'batches')}, ${count(trace.parcels.length, 'parcel')}`}
        >
          <defs>
            <pattern id="held" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
              <rect width="8" height="8" class="ground" />
              <line x1="0" y1="0" x2="0" y2="8" class="hatch" />
            </pattern>
            <marker id="tip" viewBox="0 0 8 8" refX="8" refY="4" markerWidth="7" markerHeight="7" orient="auto">
              <path d="M0 0L8 4L0 8z" class="tip" />
            </marker>
          </defs>
          {edges.map(({ path }) => (
            <path d={path} class="way" marker-end="url(#tip)" />
          ))}
          {edges.map(({ text, x, y }) => (
            <text x={String(x)} y={String(y + 4)} text-anchor="middle" class="quantity" safe>
              {text}
            </text>
          ))}
          {boxes.map((box) => (
            <BoxDrawn {...box} />
          ))}
        </svg>
      </div>
      <figcaption class="hint">
        Sources are left, customers right. Dashed boxes are batches, rounded ones orders and deliveries; hatched lots
        may not be used.
      </figcaption>
    </figure>
  );
}

function BoxDrawn({ title, line, href, kind, status, isStart, x, y }: Box & { x: number; y: number }): JSX.Element {
  const isStopped = status !== null && status !== 'released';
  const drawn = (
    <>
      <rect
        x={String(x - BOX.width / 2)}
        y={String(y - BOX.height / 2)}
        width={String(BOX.width)}
        height={String(BOX.height)}
        rx={kind === 'lot' || kind === 'batch' ? '4' : '22'}
        class={`box ${kind}${isStart ? ' start' : ''}${isStopped ? ' held' : ''}`}
      />
      {isStopped && (
        <rect
          x={String(x - BOX.width / 2 + 6)}
          y={String(y - 19)}
          width={String(BOX.width - 12)}
          height="38"
          class="plate"
        />
      )}
      <text x={String(x)} y={String(y - 3)} text-anchor="middle" class="code" safe>
        {title}
      </text>
      <text x={String(x)} y={String(y + 13)} text-anchor="middle" class="line" safe>
        {line}
      </text>
    </>
  );
  return href === null ? <g>{drawn}</g> : <a href={href}>{drawn}</a>;
}

interface Edge {
  path: string;
  text: string;
  x: number;
  y: number;
}

function laidOut(trace: TraceView): {
  boxes: (Box & { x: number; y: number })[];
  edges: Edge[];
  width: number;
  height: number;
} {
  const known = boxesOf(trace);
  const measures = measuresOf(trace);
  const most = known.size > BOXES_MOST ? FOLDED_TO : BOXES_MOST;
  const drawn = fold(trace.links, [...known.keys()], (key) => groupOf(known.get(key)!, trace.lot), most);
  const foldedInto = new Map(drawn.folded.flatMap(({ key, members }) => members.map((one) => [one, key] as const)));
  const graph = new dagre.graphlib.Graph();
  graph.setGraph({ rankdir: 'LR', nodesep: 14, ranksep: 18, edgesep: 8, marginx: 8, marginy: 8 });
  for (const key of drawn.keys) graph.setNode(key, { ...BOX });
  for (const { from, to } of drawn.links) graph.setEdge(from, to, { ...EDGE, labelpos: 'c' });
  dagre.layout(graph);
  const boxes = drawn.keys.map((key) => {
    const several = drawn.folded.find((one) => one.key === key);
    const box = several ? severalOf(key, several.members, known) : known.get(key)!;
    const { x, y } = graph.node(key) as Point;
    return { ...box, x, y };
  });
  const edges = drawn.links.map((link) => {
    const edge = graph.edge(link.from, link.to) as { points: { x: number; y: number }[]; x: number; y: number };
    return {
      path: pathOf(sideOf(graph.node(link.from), 1), edge.points.slice(1, -1), sideOf(graph.node(link.to), -1)),
      text: quantityOf(link, trace.links, foldedInto, measures),
      x: edge.x,
      y: edge.y,
    };
  });
  const { width = 0, height = 0 } = graph.graph() as { width?: number; height?: number };
  return { boxes, edges, width: Math.ceil(width), height: Math.ceil(height) };
}

interface Point {
  x: number;
  y: number;
}

/** The middle of a box's right (1) or left (-1) side. */
const sideOf = ({ x, y }: Point, side: 1 | -1): Point => ({ x: x + (side * BOX.width) / 2, y });

/** Level at every point, so that a steep line stays in the gap between two layers and crosses no box. */
function pathOf(from: Point, between: readonly Point[], to: Point): string {
  const points = [from, ...between, to];
  const curves = points.slice(1).map((end, at) => {
    const begin = points[at]!;
    const half = ((begin.x + end.x) / 2).toFixed(1);
    return `C${half} ${begin.y.toFixed(1)} ${half} ${end.y.toFixed(1)} ${end.x.toFixed(1)} ${end.y.toFixed(1)}`;
  });
  return `M${from.x.toFixed(1)} ${from.y.toFixed(1)}${curves.join('')}`;
}

const BELOW = { lot: '#lots', batch: '#sources', delivery: '#sources', order: '#parcels', several: '#lots' } as const;

/** Alike things: orders and deliveries among themselves, lots and batches of one item in one state. The start stays. */
function groupOf({ kind, line, status, id }: Box, start: string): string | null {
  if (id === `lot:${start}`) return null;
  return kind === 'lot' || kind === 'batch' ? `${kind} ${line} ${status ?? ''}` : kind;
}

function severalOf(key: string, members: readonly string[], known: ReadonlyMap<string, Box>): Box {
  const first = known.get(members[0]!)!;
  const words = { lot: 'lots', batch: 'batches', delivery: 'deliveries', order: 'orders', several: 'things' }[
    first.kind
  ];
  const line = first.kind === 'lot' || first.kind === 'batch' ? first.line : 'see the table';
  return { ...first, id: key, title: `${members.length} ${words}`, line, href: BELOW[first.kind], isStart: false };
}

/** What one line says: an amount, or nothing where what it sums is not all counted or all weighed. */
function quantityOf(
  link: Link,
  all: TraceView['links'],
  foldedInto: ReadonlyMap<string, string>,
  measures: ReadonlyMap<string, Measure>,
): string {
  const shown = (key: string) => foldedInto.get(key) ?? key;
  const kinds = new Set(
    all
      .filter(({ from, to }) => shown(from) === link.from && shown(to) === link.to)
      .map(({ from, to }) => measures.get(from) ?? measures.get(to) ?? 'counted'),
  );
  const [only] = kinds;
  return kinds.size === 1 ? amountText(link.quantity, only!) : '';
}

const measuresOf = ({ lots }: TraceView): Map<string, Measure> =>
  new Map(lots.map(({ code, measure }) => [`lot:${code}`, measure]));

function boxesOf({ lot: start, lots, batches, deliveries, parcels }: TraceView): Map<string, Box> {
  const boxes = new Map<string, Box>();
  const put = (box: Omit<Box, 'isStart'>) => boxes.set(box.id, { ...box, isStart: box.id === `lot:${start}` });
  for (const { code } of deliveries)
    put({ id: `delivery:${code}`, title: code, line: 'delivery', href: null, kind: 'delivery', status: null });
  for (const { code, item, status } of lots)
    put({
      id: `lot:${code}`,
      title: code,
      line: status === 'released' ? item : `${item}: ${STATUS_WORDS[status]}`.slice(0, 25),
      href: `/trace/${encodeURIComponent(code)}`,
      kind: 'lot',
      status,
    });
  for (const { code, item } of batches)
    put({
      id: `batch:${code}`,
      title: code,
      line: item,
      href: `/bench/${encodeURIComponent(code)}`,
      kind: 'batch',
      status: null,
    });
  for (const { channel, number, customer } of parcels)
    put({
      id: `order:${channel}/${number}`,
      title: number.slice(0, 20),
      line: (customer ?? channel).slice(0, 23),
      href: `/orders/${encodeURIComponent(channel)}/${encodeURIComponent(number)}`,
      kind: 'order',
      status: null,
    });
  return boxes;
}
