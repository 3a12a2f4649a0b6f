import { QueryFailedError } from 'typeorm';

/** The SQLSTATE of an error the database raised, or undefined for any other error. */
export function sqlStateOf(error: unknown): string | undefined {
  const cause = error instanceof QueryFailedError ? (error.driverError as unknown) : error;
  if (!(cause instanceof Error) || !('code' in cause) || typeof cause.code !== 'string') return undefined;
  return /^[0-9A-Z]{5}$/.test(cause.code) ? cause.code : undefined;
}
