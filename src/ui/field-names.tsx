import { placeInWords } from '../platform/plain-words.js';

interface OfField {
  name: string;
  pointer?: string;
  fault?: { fields: Record<string, string> };
}

/** Marks the label of a field that is at fault, so that the note above the form calls the field by it. */
export function labelled({ name, pointer, fault }: OfField): { 'data-at'?: string } {
  const at = pointer ?? name;
  return fault?.fields[at] === undefined ? {} : { 'data-at': at };
}

/** A field in the note above its form. It stands before the field, so its label is put in by `withFieldNames`. */
export function FieldName({ pointer }: { pointer: string }): JSX.Element {
  return (
    <strong data-field={pointer} safe>
      {placeInWords(pointer)}
    </strong>
  );
}

const NAMED = /<strong data-field="([^"]*)">[^<]*<\/strong>/g;

/** The page with each field that a note names called by its own label, where it has one after the note. */
export function withFieldNames(html: string): string {
  if (!html.includes('<strong data-field="')) return html;
  return html.replaceAll(NAMED, (named, pointer: string, start: number) => {
    const label = labelOf(html.slice(start), pointer);
    return label === undefined ? named : `<strong>${label}</strong>`;
  });
}

/** Escaped as it stands there. */
function labelOf(html: string, pointer: string): string | undefined {
  const at = pointer.replaceAll(/[^\w/-]/g, String.raw`\$&`);
  const ways = [
    `<label[^>]* data-at="${at}"[^>]*>([^<]+)`,
    `<label[^>]* for="[^"]*-${at}"[^>]*>([^<]+)`,
    `<(?:input|select|textarea)(?=[^>]* name="${at}")[^>]* aria-label="([^"]+)"`,
    `<label[^>]*>\\s*(?:<span[^>]*>)?([^<]+?)(?:</span>)?\\s*<(?:input|select|textarea)[^>]* name="${at}"`,
  ];
  for (const way of ways) {
    const label = new RegExp(way).exec(html)?.[1]?.trim();
    if (label) return label;
  }
  return undefined;
}
