/** One thing wrong with one place of the input: a JSON pointer into the body, or `/query/name`, `/path/name`. */
export interface ProblemPart {
  pointer: string;
  detail: string;
  code?: string;
  /** The same for a person at a page, where `detail` is for programs: it is not sent to those. */
  words?: string;
}

export interface ProblemContent {
  status: number;
  /** Stable, lower-case, with dashes: what a program branches on. */
  code: string;
  /** One sentence for a person. */
  detail: string;
  errors?: ProblemPart[];
  /** The same for a person at a page, where `detail` names what only programs know: it is not sent to those. */
  words?: string;
  /** Which field of a form that is about, as far as the database can tell: for pages alone. */
  field?: string;
  /** Further members of the answer, for example the rows an import refused. */
  extra?: Record<string, unknown>;
}

/** An answer other than success, as RFC 9457 describes it; the one exception filter turns it into the response. */
export class Problem extends Error {
  readonly status: number;
  readonly code: string;
  readonly errors: ProblemPart[];
  readonly words: string | undefined;
  readonly field: string | undefined;
  readonly extra: Record<string, unknown>;

  constructor(content: ProblemContent) {
    super(content.detail);
    this.name = 'Problem';
    this.status = content.status;
    this.code = content.code;
    this.errors = content.errors ?? [];
    this.words = content.words;
    this.field = content.field;
    this.extra = content.extra ?? {};
  }
}

/** 404 `not-found`: `what` is the kind of thing in the maker's words, `code` how it was asked for. */
export const notFound = (what: string, code: string | number): Problem =>
  new Problem({ status: 404, code: 'not-found', detail: `There is no ${what} ${code}.` });

/** 422 with one error at `pointer`. */
export const invalid = (pointer: string, detail: string, code = 'invalid'): Problem =>
  new Problem({ status: 422, code, detail, errors: [{ pointer, detail, code }] });

/** 409: the request is right but the present state refuses it. */
export const conflict = (code: string, detail: string): Problem => new Problem({ status: 409, code, detail });
