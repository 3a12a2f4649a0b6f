import type { EntityManager } from 'typeorm';
import { invalid } from '../platform/problem.js';
import { e3Of } from '../checks/bench-rules.service.js';
import type { LabelSheetPut } from './labels.schema.js';

/** A sheet of labels, in thousandths of a millimetre. */
export interface LabelSheet {
  code: string;
  name: string;
  pageWidthUm: number;
  pageHeightUm: number;
  columns: number;
  rows: number;
  widthUm: number;
  heightUm: number;
  leftUm: number;
  topUm: number;
  pitchXUm: number;
  pitchYUm: number;
}

const A4 = { pageWidthUm: 210_000, pageHeightUm: 297_000 } as const;
/** ANSI A, 8.5 by 11 inches. */
const LETTER = { pageWidthUm: 215_900, pageHeightUm: 279_400 } as const;

type Grid = Pick<
  LabelSheet,
  'columns' | 'rows' | 'widthUm' | 'heightUm' | 'leftUm' | 'topUm' | 'pitchXUm' | 'pitchYUm'
>;

const sheet = (code: string, name: string, page: typeof A4 | typeof LETTER, grid: Grid): LabelSheet => ({
  code,
  name,
  ...page,
  ...grid,
});

/* Dimensions in which sheets are sold: common practice, no source. Measure your own before the first print. */
const BUILT_IN: readonly LabelSheet[] = [
  sheet('a4-70x37', 'A4, 24 of 70 x 37 mm', A4, {
    columns: 3,
    rows: 8,
    widthUm: 70_000,
    heightUm: 37_000,
    leftUm: 0,
    topUm: 500,
    pitchXUm: 70_000,
    pitchYUm: 37_000,
  }),
  sheet('a4-64x38', 'A4, 21 of 63.5 x 38.1 mm', A4, {
    columns: 3,
    rows: 7,
    widthUm: 63_500,
    heightUm: 38_100,
    leftUm: 7_250,
    topUm: 15_150,
    pitchXUm: 66_000,
    pitchYUm: 38_100,
  }),
  sheet('a4-99x68', 'A4, 8 of 99.1 x 67.7 mm', A4, {
    columns: 2,
    rows: 4,
    widthUm: 99_100,
    heightUm: 67_700,
    leftUm: 4_650,
    topUm: 13_100,
    pitchXUm: 101_600,
    pitchYUm: 67_700,
  }),
  sheet('letter-67x25', 'Letter, 30 of 66.7 x 25.4 mm', LETTER, {
    columns: 3,
    rows: 10,
    widthUm: 66_675,
    heightUm: 25_400,
    leftUm: 4_763,
    topUm: 12_700,
    pitchXUm: 69_850,
    pitchYUm: 25_400,
  }),
  sheet('letter-102x51', 'Letter, 10 of 101.6 x 50.8 mm', LETTER, {
    columns: 2,
    rows: 5,
    widthUm: 101_600,
    heightUm: 50_800,
    leftUm: 3_969,
    topUm: 12_700,
    pitchXUm: 106_363,
    pitchYUm: 50_800,
  }),
];

/** The program's own, the workshop's in their place or beside them. */
export async function labelSheets(tx: EntityManager): Promise<LabelSheet[]> {
  const rows = await tx.query<LabelSheet[]>(
    `select code, name, page_width_um as "pageWidthUm", page_height_um as "pageHeightUm", columns, rows,
       width_um as "widthUm", height_um as "heightUm", left_um as "leftUm", top_um as "topUm", pitch_x_um as "pitchXUm",
       pitch_y_um as "pitchYUm" from label_sheet order by code`,
  );
  const sheets = new Map(BUILT_IN.map((one) => [one.code, one]));
  for (const row of rows) sheets.set(row.code, row);
  return [...sheets.values()];
}

/** A sheet as it is written down. Throws 422 problems for dimensions that are none, and for labels off the page. */
export function sheetOf(code: string, body: LabelSheetPut): LabelSheet {
  const um = (name: keyof LabelSheetPut) => e3Of(body[name], `/${name}`);
  const made: LabelSheet = {
    code,
    name: body.name,
    columns: body.columns,
    rows: body.rows,
    pageWidthUm: um('pageWidthMm'),
    pageHeightUm: um('pageHeightMm'),
    widthUm: um('widthMm'),
    heightUm: um('heightMm'),
    leftUm: um('leftMm'),
    topUm: um('topMm'),
    pitchXUm: um('pitchXMm'),
    pitchYUm: um('pitchYMm'),
  };
  refuseOffPage(made);
  return made;
}

function refuseOffPage(made: LabelSheet): void {
  for (const [name, um, least] of [
    ['pageWidthMm', made.pageWidthUm, 20_000],
    ['pageHeightMm', made.pageHeightUm, 10_000],
    ['widthMm', made.widthUm, 10_000],
    ['heightMm', made.heightUm, 8_000],
  ] as const)
    if (um < least || um > 1_000_000)
      throw invalid(`/${name}`, `It is from ${least / 1000} mm to a metre.`, 'out-of-range');
  if (made.pitchXUm < made.widthUm) throw invalid('/pitchXMm', 'Labels would lie on each other.', 'overlapping');
  if (made.pitchYUm < made.heightUm) throw invalid('/pitchYMm', 'Labels would lie on each other.', 'overlapping');
  if (made.leftUm + (made.columns - 1) * made.pitchXUm + made.widthUm > made.pageWidthUm)
    throw invalid('/columns', 'The last column would not be on the page.', 'off-page');
  if (made.topUm + (made.rows - 1) * made.pitchYUm + made.heightUm > made.pageHeightUm)
    throw invalid('/rows', 'The last row would not be on the page.', 'off-page');
}

/** Writes a sheet down, in place of one with its code. */
export async function writeSheet(tx: EntityManager, made: LabelSheet): Promise<LabelSheet> {
  await tx.query(
    `insert into label_sheet (code, name, page_width_um, page_height_um, columns, rows, width_um, height_um, left_um,
       top_um, pitch_x_um, pitch_y_um)
     select code, name, "pageWidthUm", "pageHeightUm", columns, rows, "widthUm", "heightUm", "leftUm", "topUm",
       "pitchXUm", "pitchYUm"
     from jsonb_to_record($1::jsonb) as s (code text, name text, "pageWidthUm" int, "pageHeightUm" int, columns int,
       rows int, "widthUm" int, "heightUm" int, "leftUm" int, "topUm" int, "pitchXUm" int, "pitchYUm" int)
     on conflict (code) do update set name = excluded.name, page_width_um = excluded.page_width_um,
       page_height_um = excluded.page_height_um, columns = excluded.columns, rows = excluded.rows,
       width_um = excluded.width_um, height_um = excluded.height_um, left_um = excluded.left_um,
       top_um = excluded.top_um, pitch_x_um = excluded.pitch_x_um, pitch_y_um = excluded.pitch_y_um,
       updated_by = acting_person(), updated_at = now()`,
    [JSON.stringify(made)],
  );
  return made;
}
