/** The way of an order through the code: a room imports only from rooms before it, and reads only their tables and its own. */
export const ROOMS: readonly string[] = [
  'kernel',
  'platform',
  'ui',
  'catalog',
  'people',
  'messages',
  'stock',
  'orders',
  'purchasing',
  'batches',
  'planning',
  'reorder',
  'checks',
  'bench',
  'labels',
  'shipping',
  'trace',
  'reminders',
  'demo',
  'pages',
];

/** Rooms that ask other rooms and never the database. */
export const ROOMS_WITHOUT_SQL: readonly string[] = ['kernel', 'ui', 'pages'];

/** The room of a file of the sources; what lies beside the rooms stands on all of them, the settings with the platform. */
export function roomOf(path: string): string {
  const [, room = '', file] = path.split('/');
  if (file !== undefined) return room;
  return room === 'config.ts' ? 'platform' : 'application';
}
