import { COMMIT } from './planning/commit.js';
import { DRAFT } from './planning/draft.js';
import { LATE_LINE } from './planning/late-line.js';
import { answerer } from './planning/threads/thread.js';
import { TROUBLE_AHEAD } from './planning/trouble-ahead.js';
import { ITEM_OUTLOOK, REORDER_LIST } from './reorder/list.js';

/** The program of a thread that plans: all the questions it answers. */
export default answerer([DRAFT, COMMIT, LATE_LINE, TROUBLE_AHEAD, REORDER_LIST, ITEM_OUTLOOK]);
