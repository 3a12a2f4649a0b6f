/** A pattern that finds `text` anywhere, its own wildcards taken literally; null, which asks for nothing, where there is none. */
export function likePart(text: string): string;
export function likePart(text: string | undefined): string | null;
export function likePart(text: string | undefined): string | null {
  return text === undefined ? null : `%${text.replace(/[\\%_]/g, '\\$&')}%`;
}
