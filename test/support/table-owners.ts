/**
 * Which room each table and view of the database belongs to: only its own room writes it, and only that one and rooms after it
 * read it. Rows that tell of an act of any room (`change`, `state_change`) are the platform's, which offers triggers for them.
 */
export const TABLE_OWNERS: Readonly<Record<string, string>> = {
  change: 'platform',
  database_function: 'platform',
  idempotency: 'platform',
  migrations: 'platform',
  served_by: 'platform',
  state_change: 'platform',
  transition: 'platform',

  message: 'messages',
  message_file: 'messages',
  message_reminder: 'messages',
  muted_kind: 'messages',
  notice_setting: 'messages',
  reminder: 'messages',
  sweep: 'messages',

  closed_day: 'catalog',
  formula: 'catalog',
  formula_line: 'catalog',
  formula_step: 'catalog',
  item: 'catalog',
  use_limit: 'catalog',
  vessel: 'catalog',
  washing: 'catalog',
  workshop: 'catalog',

  person: 'people',

  lot: 'stock',
  movement: 'stock',
  price_difference: 'stock',
  reservation: 'stock',
  retest: 'stock',
  shelf_count: 'stock',
  standing_movement: 'stock',
  shelf_count_line: 'stock',

  channel: 'orders',
  customer: 'orders',
  customer_order: 'orders',
  order_file: 'orders',
  order_line: 'orders',
  shop_code: 'orders',
  // of a transaction that reads a file
  import_line: 'orders',
  import_order: 'orders',
  import_row: 'orders',
  import_taken: 'orders',

  delivery: 'purchasing',
  delivery_line: 'purchasing',
  lead_time: 'purchasing',
  pack: 'purchasing',
  pack_break: 'purchasing',
  purchase_line: 'purchasing',
  purchase_order: 'purchasing',
  purchase_part: 'purchasing',
  supplier: 'purchasing',

  batch: 'batches',
  batch_finish: 'batches',
  batch_input: 'batches',
  batch_output: 'batches',
  vessel_conflict: 'batches',

  line_cover: 'planning',
  peg: 'planning',
  run: 'planning',

  reorder_rule: 'reorder',
  reorder_setting: 'reorder',
  said_use: 'reorder',

  bench_entry: 'bench',
  rework: 'bench',

  bench_rules: 'checks',
  check_kind: 'checks',
  check_photo: 'checks',
  check_result: 'checks',
  kept_sample: 'checks',

  allergen: 'labels',
  item_label: 'labels',
  label_sheet: 'labels',

  shipment: 'shipping',

  announced_lot: 'trace',
  complaint: 'trace',
  complaint_entry: 'trace',
  complaint_photo: 'trace',
  recall: 'trace',
  recall_answer: 'trace',
  recall_complaint: 'trace',
  recall_entry: 'trace',
  recall_hold: 'trace',
  recall_letter: 'trace',
  recall_lift: 'trace',
  recall_result: 'trace',
  recall_scope: 'trace',
  trace_setting: 'trace',
  trade_item: 'trace',
};

/** Which room each function of the database belongs to; its body obeys the same rule, and calling it is using the room. */
export const FUNCTION_OWNERS: Readonly<Record<string, string>> = {
  acting_person: 'platform',
  claim_key: 'platform',
  guard_state: 'platform',
  kept_json: 'platform',
  note_change: 'platform',
  note_first_status: 'platform',
  only_reason_erased: 'platform',
  prune_answers: 'platform',
  refuse_change: 'platform',
  without_words: 'platform',

  guard_sent: 'messages',
  notice_time: 'messages',

  amount_text: 'catalog',
  guard_measure: 'catalog',

  check_act: 'stock',
  free_reservation: 'stock',
  guard_lot_date: 'stock',
  guard_measure_in_stock: 'stock',
  inherit_never_release: 'stock',
  move_reservation: 'stock',
  post_movement: 'stock',
  post_reservation: 'stock',
  post_retest: 'stock',
  post_targets: 'stock',
  refuse_release: 'stock',

  guard_measure_in_orders: 'orders',
  note_reported: 'orders',
  post_line: 'orders',

  guard_measure_in_purchasing: 'purchasing',
  guard_measure_in_reorder: 'reorder',
  guard_purchase_line: 'purchasing',
  post_delivery: 'purchasing',

  guard_batch: 'batches',
  guard_made_lot: 'batches',
  guard_rework_input: 'batches',
  post_finish: 'batches',
  post_input: 'batches',
  refuse_begun: 'batches',
  refuse_loop: 'batches',
  refuse_weighed: 'batches',

  discard_once: 'checks',

  guard_rework: 'bench',

  complaint_order: 'trace',
  customer_traces: 'trace',
  customer_words: 'trace',
  erasure_refusals: 'trace',
  forget_customer: 'trace',
  only_erased: 'trace',
  without_customer: 'trace',
  without_person: 'trace',

  demo_tables: 'demo',
  guard_demo: 'demo',
  remove_demo: 'demo',

  // what is promised of all tables is looked at from above all rooms, as `src/verify.ts` is
  ledger_checks: 'application',
  ledger_violations: 'application',
};

/** What does not obey the rule, file by file or function by function, each with its reason. What is no longer needed fails the test. */
export const EXCEPTIONS: Readonly<Record<string, { uses: readonly string[]; why: string }>> = {
  check_act: {
    uses: ['reads batch_input', 'reads order_line'],
    why: 'the lot stays locked while what leaves it is held against what it is for',
  },
  post_movement: {
    uses: ['reads batch_input'],
    why: 'a rejected lot goes into the one batch that mends it: the ledger itself refuses any other',
  },
  post_reservation: {
    uses: [
      'reads batch_input',
      'reads order_line',
      'reads customer_order',
      'writes batch',
      'writes delivery_line',
      'reads batch',
      'reads delivery_line',
    ],
    why: 'the one source of a promise may be a lot, a batch or a delivery, its one target an input or an order line: whichever it is, it is taken in one step',
  },
  free_reservation: {
    uses: ['reads batch', 'reads delivery_line', 'writes batch', 'writes delivery_line'],
    why: 'gives back what post_reservation took, its source locked before it, as every act does',
  },
  forget_customer: {
    uses: [
      'writes idempotency',
      'writes message',
      'writes message_file',
      'writes movement',
      'writes order_file',
      'writes state_change',
      'writes customer',
    ],
    why: 'who somebody was is erased wherever it was written down, in one step that decides first whether it may be',
  },
  remove_demo: { uses: ['writes workshop'], why: 'empties every table, and leaves a workshop to begin with' },
  'src/demo/load-catalog.ts': {
    uses: ['writes use_limit', 'writes item', 'writes supplier', 'writes pack'],
    why: 'the invented workshop is there at once: a statement a table, where the acts of a person would take thousands',
  },
  'src/demo/load-labels.ts': { uses: ['writes item_label', 'writes allergen'], why: 'as load-catalog.ts' },
  'src/demo/load-orders.ts': {
    uses: ['writes channel', 'writes customer', 'writes customer_order', 'writes order_line'],
    why: 'as load-catalog.ts',
  },
  'src/platform/backup/backup-contents.ts': {
    uses: ['reads item', 'reads channel', 'reads customer', 'reads supplier', 'reads vessel'],
    why: 'whether there is a workshop to lose is asked before the schema is changed, below all rooms',
  },
  'src/platform/backup/restore-backup.ts': {
    uses: ['calls ledger_violations'],
    why: 'what was restored is held against every promise before it counts',
  },
  'src/platform/clock.ts': {
    uses: ['reads workshop'],
    why: 'which day it is depends on where the workshop is, and every room asks for it',
  },
  'src/stock/lots.service.ts': { uses: ['reads supplier'], why: 'a lot says whom it was bought from' },
  'src/messages/send.service.ts': {
    uses: ['reads bench_rules'],
    why: 'a letter says where its pages are found, which is kept with what labels say',
  },
  'src/checks/checks.service.ts': {
    uses: ['reads item_label'],
    why: 'what was filled is held against what its label states',
  },
  'src/checks/filled-weights.ts': { uses: ['reads item_label'], why: 'as checks.service.ts' },
};

/** What nobody can read before it runs, by file or function, each with its reason. */
export const UNREAD: Readonly<Record<string, string>> = {
  'src/platform/backup/restore-backup.ts': 'puts back every table there is, with its guards off, as the owner',
  'src/platform/backup/write-backup.ts': 'reads every table there is, of one moment',
  'src/platform/database-functions.ts': 'makes the functions and views themselves, each of its file',
  'src/platform/database.ts':
    'begins a transaction in the name of a person, and runs the statements `prepared` is handed',
  'src/platform/embedded-postgres.ts': 'makes the database itself',
  'src/platform/open-database.ts': 'gives the role of the application its right and its password',
  'src/platform/queue-schema.ts': 'gives the role of the application its rights on the schema of the queue',
  remove_demo: 'empties the tables that demo_tables() lists, which a test compares with what there is',
};
