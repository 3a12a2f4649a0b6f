-- Every table that holds what a workshop does: all of them are emptied when the demonstration is taken away. A new table
-- comes in here.
create or replace function demo_tables() returns regclass[] language sql stable set search_path = public as $$
  select array[
    'workshop', 'closed_day', 'vessel', 'washing', 'person', 'item', 'formula', 'formula_line', 'formula_step', 'use_limit', 'channel',
    'customer', 'shop_code', 'customer_order', 'order_line', 'order_file', 'supplier', 'pack', 'delivery',
    'delivery_line', 'run', 'line_cover', 'batch', 'batch_input', 'peg', 'lot', 'reservation', 'movement',
    'state_change', 'shelf_count', 'shelf_count_line', 'shipment', 'retest', 'price_difference', 'idempotency',
    'bench_entry', 'batch_finish', 'batch_output', 'rework', 'bench_rules', 'check_kind', 'check_result',
    'check_photo', 'kept_sample', 'item_label', 'allergen', 'label_sheet', 'pack_break', 'reorder_setting',
    'reorder_rule', 'said_use', 'purchase_order', 'purchase_line', 'purchase_part', 'trace_setting', 'trade_item', 'complaint',
    'complaint_entry', 'complaint_photo', 'recall', 'recall_scope', 'recall_complaint', 'recall_hold',
    'recall_lift', 'recall_entry', 'recall_letter', 'recall_answer', 'recall_result', 'announced_lot', 'change',
    'sweep', 'reminder', 'message', 'message_reminder', 'message_file', 'notice_setting', 'muted_kind'
  ]::regclass[]
$$;
