import { Get, Post, Query } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { notFound } from '../../platform/problem.js';
import { BenchRulesService } from '../../checks/bench-rules.service.js';
import { benchRulesPut, checkKindCode, checkKindPut } from '../../checks/checks.schema.js';
import { labelSheetPut, sheetCode } from '../../labels/labels.schema.js';
import { LabelsService } from '../../labels/labels.service.js';
import { BENCH_SAID, BenchSettingsView, NEW_KIND, NEW_SHEET, RULES } from './bench-settings-view.js';
import { bodyOf, faultOf, goTo, linesIn, type Sent, wholeOrText, written } from '../../ui/form.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const ADDRESS = '/bench/settings';
const kindPath = z.strictObject({ code: checkKindCode });
const sheetPath = z.strictObject({ code: sheetCode });
const saidQuery = z.strictObject({ said: z.enum(BENCH_SAID).optional() });

/** By which rules the bench works: what is checked, how contents are judged, on which sheets labels are printed. */
@PageController('bench/settings')
export class BenchSettingsPage {
  constructor(
    private readonly rules: BenchRulesService,
    private readonly labels: LabelsService,
  ) {}

  @Get()
  async show(@Query({ schema: saidQuery }) { said }: z.infer<typeof saidQuery>) {
    return <BenchSettingsView {...await this.seen()} said={said} />;
  }

  @Post('rules')
  putRules(@Filled() { who, sent, reply }: Filled) {
    return this.act({ form: RULES, said: 'rules', sent, reply }, async () => {
      const { netRule, leaveOn, rinseOff, allergenSource, address = '' } = sent;
      const body = { netRule, leaveOn, rinseOff, allergenSource, address: address.trim() };
      await this.rules.put(who, bodyOf(benchRulesPut, body));
    });
  }

  @Post('checks')
  addKind(@Filled() { who, sent, reply }: Filled) {
    return this.act({ form: NEW_KIND, said: 'check', sent, reply }, async () => {
      await this.rules.addKind(who, bodyOf(checkKindPut, kindBody(sent)));
    });
  }

  @Post('checks/:code')
  putKind(@Filled(kindPath) { who, path: { code }, sent, reply }: Filled<typeof kindPath>) {
    return this.act({ form: code, said: 'check', sent, reply }, async () => {
      const { checkKinds } = await this.rules.kinds();
      const kind = checkKinds.find((one) => one.code === code);
      if (!kind) throw notFound('check', code);
      // what is measured, and of what, stays: results already written were found so
      const { family, measure } = kind;
      await this.rules.putKind(who, code, bodyOf(checkKindPut, { ...kindBody({ ...sent, measure }), family }));
    });
  }

  @Post('sheets')
  addSheet(@Filled() { who, sent, reply }: Filled) {
    return this.act({ form: NEW_SHEET, said: 'sheet', sent, reply }, async () => {
      await this.labels.addSheet(who, bodyOf(labelSheetPut, sheetBody(sent)));
    });
  }

  @Post('sheets/:code')
  putSheet(@Filled(sheetPath) { who, path: { code }, sent, reply }: Filled<typeof sheetPath>) {
    return this.act({ form: code, said: 'sheet', sent, reply }, async () => {
      const { labelSheets } = await this.labels.sheets();
      if (!labelSheets.some((sheet) => sheet.code === code)) throw notFound('label sheet', code);
      await this.labels.putSheet(who, code, bodyOf(labelSheetPut, sheetBody(sent)));
    });
  }

  private async act(
    asked: { form: string; said: (typeof BENCH_SAID)[number]; sent: Sent; reply: FastifyReply },
    work: () => Promise<void>,
  ): Promise<JSX.Element | string> {
    try {
      await work();
      return goTo(asked.reply, ADDRESS, { said: asked.said });
    } catch (error) {
      const fault = faultOf(error, asked.reply);
      return <BenchSettingsView {...await this.seen()} refused={{ form: asked.form, sent: asked.sent, fault }} />;
    }
  }

  private async seen() {
    const { checkKinds } = await this.rules.kinds();
    const { labelSheets } = await this.labels.sheets();
    return { rules: await this.rules.get(), kinds: checkKinds, sheets: labelSheets };
  }
}

function kindBody(sent: Sent): Record<string, unknown> {
  const { family, made, measure } = sent;
  return {
    family,
    made,
    measure,
    position: wholeOrText(written(sent, 'position')) ?? null,
    name: written(sent, 'name') ?? '',
    how: written(sent, 'how') ?? '',
    unit: measure === 'number' ? (written(sent, 'unit') ?? '') : '',
    lowest: written(sent, 'lowest') ?? null,
    highest: written(sent, 'highest') ?? null,
    choices: linesIn(sent, 'choices'),
    good: linesIn(sent, 'good'),
    unitsLeast: wholeOrText(written(sent, 'unitsLeast')) ?? null,
    oneOf: written(sent, 'oneOf') ?? '',
    isRequired: sent['isRequired'] === 'yes',
  };
}

const MILLIMETRES = [
  'pageWidthMm',
  'pageHeightMm',
  'widthMm',
  'heightMm',
  'leftMm',
  'topMm',
  'pitchXMm',
  'pitchYMm',
] as const;

function sheetBody(sent: Sent): Record<string, unknown> {
  return {
    name: written(sent, 'name') ?? '',
    columns: wholeOrText(written(sent, 'columns')) ?? null,
    rows: wholeOrText(written(sent, 'rows')) ?? null,
    ...Object.fromEntries(MILLIMETRES.map((name) => [name, written(sent, name) ?? ''])),
  };
}
